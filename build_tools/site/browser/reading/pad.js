/**
 * Keys for a reading where fingers press the page: they write into the same box, which says the figure back large,
 * with its unit and its range in words. One press asks for the device's own keyboard instead.
 */

const FINGERS = matchMedia("(any-pointer: coarse)");

/**
 * @param {HTMLFormElement} form
 * @param {HTMLInputElement} box
 */
export function enhancePad(form, box) {
  const pad = form.querySelector("[data-pad]");
  if (!pad) return;
  const show = (shown) => {
    pad.hidden = !shown;
    box.inputMode = shown ? "none" : "decimal";
  };
  show(FINGERS.matches);
  FINGERS.addEventListener("change", () => show(FINGERS.matches));
  pad.addEventListener("click", ({ target }) => {
    const { puts, does } = target.closest("button")?.dataset ?? {};
    if (does === "keyboard") {
      show(false);
      box.focus();
    } else if (does === "back") put(box, box.value.slice(0, -1));
    else if (does === "clear") put(box, "");
    else if (puts) put(box, withKey(box.value, puts));
  });
}

/** A unit takes the place of the one before; a figure after a unit, or after "over range", begins a new reading. */
function withKey(value, key) {
  const [, figures, unit] = /^([\d.,]*)(.*)$/.exec(value);
  if (/^[\d.]$/.test(key)) return key === "." && figures.includes(".") ? value : (unit ? "" : figures) + key;
  return key === "OL" ? key : `${figures} ${key}`;
}

function put(box, value) {
  box.value = value;
  box.dispatchEvent(new Event("input"));
}
