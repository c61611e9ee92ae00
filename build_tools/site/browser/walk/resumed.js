/** The notes of a kept job: that it goes on where it stood, and what became of it when it was to be kept. */
import { keepPlace, mark, show } from "./place.js";
import { here } from "./visit.js";

/**
 * What became of the job when it was to be kept.
 * @param {import("./visit.js").Visit} visit @param {"kept" | "full" | "denied" | "elsewhere"} state
 */
export function showKept(visit, state) {
  const { part, words } = visit, note = part("not-kept");
  if (state === "elsewhere") queueMicrotask(() => mark(visit));
  if (state === "kept" && note.dataset.state === "elsewhere") return;
  note.dataset.state = state;
  note.hidden = state === "kept";
  if (state !== "kept") note.querySelector("span").textContent = words(`job-${state}`);
  part("show-theirs").hidden = state !== "elsewhere";
}

/**
 * Goes on with a kept job where it stood.
 * @param {import("./visit.js").Visit} visit @param {ReturnType<import("./visit.js").Visit["job"]["takeUp"]>} found
 */
export function resume(visit, found) {
  if (!found) return;
  const { part } = visit;
  visit.now = { ...found.place, resumed: found.place.trail.length };
  keepPlace(visit);
  mark(visit, `#${here(visit)}`);
  show(visit);
  showKept(visit, "kept");
  part("not-kept").hidden = part("open-job").hidden = true;
  tellResumed(visit, found);
}

/** Says how much of it stands, and since when. @param {import("./visit.js").Visit} visit */
export function tellResumed({ part, words, job }, { place, lost, version }) {
  const first = new Date(job.record.begun), note = part("resumed");
  note.hidden = false;
  note.querySelector("span").textContent = words(lost ? "no-fit" : "goes-on", {
    count: place.trail.length, lost, version, time: first.toLocaleString([], { dateStyle: "medium", timeStyle: "short" }),
  });
  part("status").textContent = note.querySelector("span").textContent;
}
