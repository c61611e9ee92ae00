/** A tree walked by keys: each answer has its own, and a digit begins to type a reading. */
import { ready } from "./offer.js";
import { answer, back } from "./place.js";
import { taken } from "./replaying.js";
import { here } from "./visit.js";

/** @param {import("./visit.js").Visit} visit @param {() => void} danger opens what to do at once */
export function enhanceKeys(visit, danger) {
  const { root, walk } = visit;
  document.addEventListener("keydown", (event) => {
    if (root.hidden || event.ctrlKey || event.metaKey || event.altKey || event.target.closest("dialog")) return;
    const field = event.target.closest("input, textarea, select, [contenteditable]");
    if (field) {
      if (event.key === "Escape" && root.contains(field)) walk.heading(here(visit)).focus();
      return;
    }
    const act = actOf(visit, danger, event);
    if (!act) return;
    if (!event.repeat) act(); // a key held down answers one question only
    event.preventDefault();
    event.stopPropagation(); // the theme has keys of its own
  }, true);
}

/** What a key does here, if it means something. @param {KeyboardEvent} event @returns {(() => void) | undefined} */
function actOf(visit, danger, { key, target }) {
  const { part, now } = visit, isOnControl = target.closest("a, button, summary, label");
  if (key === "Backspace" || key === "Escape") return () => back(visit);
  if (now.replay && (key === "ArrowRight" || (key === "Enter" && !isOnControl))) return () => goOn(visit);
  if (now.replay && key === "ArrowLeft") return () => back(visit);
  if (key === "!") return danger;
  if (key === "c" && !part("record").hidden) return () => part("copy").click();
  if (key === "Enter") return isOnControl ? undefined : accepting(visit);
  return typing(visit, key) ?? answering(visit, key);
}

/** A replay takes its next answer. */
const goOn = (visit) => taken(visit) && answer(visit, taken(visit));

function accepting(visit) {
  const found = ready(visit, here(visit));
  return found && (() => answer(visit, found.link, found.how));
}

function typing(visit, key) {
  const box = visit.walk.nodes.get(here(visit)).querySelector("input[data-typed]");
  return box && !visit.now.replay && /^[0-9.,]$/.test(key) ? () => typeInto(box, key) : undefined;
}

function answering(visit, key) {
  const link = visit.walk.exits(here(visit)).find((exit) => exit.dataset.key === key.toLowerCase());
  return link && (() => answer(visit, link));
}

/** @param {HTMLInputElement} box @param {string} key */
function typeInto(box, key) {
  box.focus();
  box.setRangeText(key, box.value.length, box.value.length, "end");
  box.dispatchEvent(new Event("input"));
}
