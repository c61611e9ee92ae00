/**
 * A story of a few pictures (calc.drawing.story), shown one after the other for those who watch. All stand in the
 * page for those who read; this only hides the others and lets the dashes along the conductors move.
 */

const FRAME_MS = 5000;
const BUTTONS = ["play", "pause", "back", "next", "all"];

/**
 * Put the buttons before a drawing that may hold a story, and keep them right when the drawing is made anew.
 * Who asks for less motion gets no dashes that move and steps by hand.
 * @param {HTMLElement} drawing
 * @param {(name: string, values?: object) => string} words
 */
export function watchStories(drawing, words) {
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const bar = document.createElement("div");
  bar.className = "ln-watch";
  bar.setAttribute("role", "group");
  bar.setAttribute("aria-label", words("watch"));
  const where = document.createElement("span");
  where.setAttribute("role", "status");
  const buttons = Object.fromEntries(BUTTONS.map((name) => [name, button(words(`watch-${name}`))]));
  bar.append(...Object.values(buttons), where);
  drawing.before(bar);

  let at = -1; // which is shown; -1 while all are
  let timer = 0;

  const frames = () => [...drawing.querySelectorAll(".ln-frame")];

  function show(place, playing) {
    clearTimeout(timer);
    const all = frames();
    at = Math.min(place, all.length - 1);
    const moves = playing && !still.matches && at >= 0;
    drawing.toggleAttribute("data-watching", at >= 0);
    drawing.toggleAttribute("data-moving", moves);
    all.forEach((frame, number) => frame.toggleAttribute("data-away", at >= 0 && number !== at));
    bar.hidden = all.length < 2;
    buttons.play.hidden = moves || still.matches;
    buttons.pause.hidden = !moves;
    buttons.back.disabled = at <= 0;
    buttons.next.disabled = at === all.length - 1;
    buttons.all.disabled = at < 0;
    where.textContent = at < 0 ? "" : words("picture", { number: at + 1, all: all.length });
    if (moves && at < all.length - 1) timer = setTimeout(() => show(at + 1, true), FRAME_MS);
  }

  buttons.play.addEventListener("click", () => {
    show(at < 0 || at === frames().length - 1 ? 0 : at, true);
    buttons.pause.focus();
  });
  buttons.pause.addEventListener("click", () => {
    show(at, false);
    buttons.play.focus();
  });
  buttons.back.addEventListener("click", () => show(at - 1, false));
  buttons.next.addEventListener("click", () => show(at + 1, false));
  buttons.all.addEventListener("click", () => show(-1, false));
  still.addEventListener("change", () => show(at, false));
  new MutationObserver(() => show(at, drawing.hasAttribute("data-moving"))).observe(drawing, { childList: true, subtree: true });
  show(-1, false);
}

function button(label) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = label;
  return made;
}
