/**
 * The theme's switches as buttons, which keys reach and screen readers tell, in place of labels that only fingers
 * press. Without this script keys reach the theme's own switch of its contents (access.css).
 */
export function enhanceThemeButtons() {
  const box = document.querySelector("[data-md-toggle=drawer]");
  const label = box && document.querySelector(`.md-header label[for="${box.id}"]`);
  if (label) enhanceContents(box, label);
  const palette = document.querySelector("form[data-md-component=palette]");
  if (palette) enhancePalette(palette);
}

function enhanceContents(box, label) {
  const button = buttonLike(label, box.getAttribute("aria-label"));
  button.classList.add("ln-contents");
  label.hidden = true;
  label.before(button);
  const tell = () => button.setAttribute("aria-expanded", String(box.checked));
  button.addEventListener("click", () => box.click());
  box.addEventListener("change", tell);
  addEventListener("keydown", ({ key }) => {
    if (key !== "Escape" || !box.checked) return;
    box.click();
    button.focus();
  });
  tell();
}

/** One button that stays, so that the focus does; the theme shows one label of several. */
function enhancePalette(form) {
  const labels = [...form.querySelectorAll("label")];
  const shown = () => labels.find((label) => !label.hidden) ?? labels[0];
  const button = buttonLike(shown(), "");
  form.before(button);
  form.classList.add("ln-instead");
  const show = () => {
    button.setAttribute("aria-label", shown().title);
    button.replaceChildren(...shown().cloneNode(true).childNodes);
  };
  button.addEventListener("click", () => shown().click());
  new MutationObserver(show).observe(form, { subtree: true, attributeFilter: ["hidden"] });
  show();
}

function buttonLike(label, name) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = `ln-theme-button ${label.className}`;
  button.setAttribute("aria-label", name);
  button.append(...label.cloneNode(true).childNodes);
  return button;
}
