/** A walk that was computed, shown again: what the model showed, and the answer it takes, which is marked. */
import { hopWords, loadReplay } from "./replay.js";
import { here } from "./visit.js";

/** The answer that a replay takes next. @param {import("./visit.js").Visit} visit */
export const taken = (visit) =>
  visit.walk.exits(here(visit))[visit.now.replay.hops[visit.now.trail.length]?.[1]];

/** @param {import("./visit.js").Visit} visit */
export function showReplay(visit) {
  const { root, page, part, words } = visit;
  const { replay, trail } = visit.now;
  page.toggleAttribute("data-replaying", Boolean(replay));
  part("replay").hidden = !replay;
  root.querySelectorAll("a[data-go][aria-current]").forEach((link) => link.removeAttribute("aria-current"));
  if (!replay) return;
  part("replay-case").textContent = words("replay-case", replay);
  part("replay-shown").textContent = hopWords(replay, trail.length, taken(visit), words);
  part("next").disabled = !taken(visit);
  part("replay-back").disabled = !trail.length;
  taken(visit)?.setAttribute("aria-current", "step");
}

/**
 * Begins the walk that the address asks for, if the build has computed it.
 * @param {import("./visit.js").Visit} visit @param {string} id @param {() => void} begun called when it stands at its start
 */
export async function beginReplay(visit, id, begun) {
  const { page, part, walk, words } = visit;
  const found = await loadReplay(page.dataset.replays, id);
  const fits = found?.hops.every(([node, exit]) => walk.exits(node)[exit]);
  if (fits) {
    visit.now = { trail: [], carry: {}, replay: found };
    history.replaceState(visit.now, "");
    begun();
  } else part("status").textContent = words("no-replay");
}
