/**
 * What was answered so far. A trail is a list of steps, oldest first; it lives in the browser's own history
 * entries, so Back, Forward and Reload keep it. job-of-walk.js makes the job of it that outlives them.
 *
 * @typedef {{at: string, exit: number, when: number, typed?: string, said?: true}} Step
 *   at: node id; exit: which of its answers; typed: the reading as shown; said: taken over from the caller
 * @typedef {{trail: Step[], carry: Record<string, string>, from?: string, resumed?: number,
 *   replay?: import("./replay.js").Replay}} Place
 *   from: the node a link led straight to, when the walk did not begin at the start; resumed: how many steps a kept
 *   job brought, which are in no history entry; replay: the walk shown again
 */

import { givenWords } from "../job/job-text.js";

/** The node a place has come to. @param {Place} place */
export const hereOf = (walk, { trail, from }) => {
  const last = trail.at(-1);
  return last ? walk.exits(last.at)[last.exit].dataset.go : from ?? walk.start;
};

/**
 * A place worth restoring: every step is an answer this tree still has, and each starts where the one before
 * ended. A page rebuilt since may have changed; then the walk begins again.
 * @param {Place} place
 * @returns {Place}
 */
export function soundPlace(walk, { trail = [], carry = {}, from, resumed, replay }) {
  if (from && !walk.nodes.has(from)) return { trail: [], carry };
  let at = from ?? walk.start;
  for (const step of trail) {
    const exit = step.at === at && walk.exits(at)[step.exit];
    if (!exit) return { trail: [], carry };
    at = exit.dataset.go;
  }
  return { trail, carry, from, resumed, replay };
}

/** One step in words. @param {Step} step @param {string} [asSaid] what is put after an answer of the caller's */
export function stepWords(walk, step, asSaid = "") {
  const given = givenWords({ ...step, answer: walk.exits(step.at)[step.exit].dataset.words }, asSaid);
  return { asked: walk.heading(step.at).textContent.trim(), given };
}
