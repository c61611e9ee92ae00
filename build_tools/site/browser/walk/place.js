/**
 * The place in the walk: an answer goes on from it, and each makes one entry of the browser's history.
 *
 * @typedef {{typed?: string, said?: true}} How how an answer was given, as a step of the trail keeps it
 */
import { carryText } from "../call/carry.js";
import { outcomeOf } from "../job/record.js";
import { taken } from "./replaying.js";
import { showPlace } from "./shown.js";
import { givenAt, here } from "./visit.js";
import { remembered } from "./walk.js";

const MOST_ENTRIES = 40; // browsers forget entries of their history beyond about 50

/** @param {import("./visit.js").Visit} visit @param {HTMLAnchorElement} link @param {How} [how] */
export function answer(visit, link, how = {}) {
  const { walk, part, words, now } = visit;
  if (now.replay && link !== taken(visit)) return;
  const at = here(visit), step = { at, exit: walk.exits(at).indexOf(link), when: Date.now(), ...how };
  go(visit, { ...now, trail: [...now.trail, step] });
  part("status").textContent = words("answered", { given: givenAt(visit, step) });
}

/**
 * Each answer makes one history entry, so going back is the browser's own back.
 * @param {import("./visit.js").Visit} visit @param {import("./trail.js").Place} next
 */
export function go(visit, next) {
  const { job, now: left } = visit, begun = job.id;
  visit.now = next;
  visit.later = undefined;
  keepPlace(visit);
  if (!begun && job.id) history.replaceState({ ...left, job: job.id }, ""); // going back to it stays in the job
  history.pushState({ ...next, job: job.id }, "", next.replay ? `#replay=${next.replay.id}` : `#${here(visit)}`);
  show(visit);
  arrive(visit);
}

/**
 * @param {import("./visit.js").Visit} visit
 * @param {number} length how many answers are to be left; those before `resumed` are in no history entry
 */
function backTo(visit, length) {
  const { now } = visit, left = Math.max(length, 0), steps = now.trail.length - left;
  if (steps > MOST_ENTRIES || left < (now.resumed ?? 0)) {
    go(visit, { ...now, trail: now.trail.slice(0, left), resumed: Math.min(left, now.resumed ?? 0) });
  } else if (steps) history.go(-steps);
}

/** @param {import("./visit.js").Visit} visit */
export const back = (visit) => visit.now.trail.length && backTo(visit, visit.now.trail.length - 1);

/** What was answered stays a job of its own. @param {import("./visit.js").Visit} visit */
export function restart(visit) {
  visit.job.leave();
  visit.part("resumed").hidden = true;
  go(visit, { trail: [], carry: visit.now.carry });
}

/** Says what this entry of the history is of. @param {import("./visit.js").Visit} visit @param {string} [address] */
export const mark = ({ now, job }, address) => history.replaceState({ ...now, job: job.id }, "", address);

/** The job keeps where the walk has come to. @param {import("./visit.js").Visit} visit */
export function keepPlace(visit) {
  carryOn(visit, here(visit));
  visit.job.at(visit.now, outcomeOf(visit.walk, here(visit)));
}

/** An outcome of a call tree hands its answers to the site trees it names. */
function carryOn({ walk, now }, at) {
  const answers = remembered(walk, now.trail);
  const hash = Object.keys(answers).length ? carryText(answers) : "";
  for (const link of walk.nodes.get(at).querySelectorAll("a[data-carries]")) link.hash = hash;
}

/** @param {import("./visit.js").Visit} visit */
export const show = (visit) => showPlace(visit, {
  answer: (link, how) => answer(visit, link, how),
  backTo: (length) => backTo(visit, length),
});

/** Puts the person at the heading of the node reached. @param {import("./visit.js").Visit} visit */
export function arrive(visit) {
  visit.walk.heading(here(visit)).focus({ preventScroll: true });
  visit.part(visit.now.replay ? "replay" : "walk-top").scrollIntoView({ block: "start" });
}
