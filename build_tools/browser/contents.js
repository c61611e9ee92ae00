/**
 * The theme's contents on a narrow page: a button that keys reach, in place of a label that only fingers do.
 * Without this script keys reach the theme's own switch (access.css).
 */
export function enhanceContents() {
  const box = document.querySelector("[data-md-toggle=drawer]");
  const label = box && document.querySelector(`.md-header label[for="${box.id}"]`);
  if (!label) return;
  const button = document.createElement("button");
  button.type = "button";
  button.className = `ln-contents ${label.className}`;
  button.setAttribute("aria-label", box.getAttribute("aria-label"));
  button.append(...label.cloneNode(true).childNodes);
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
