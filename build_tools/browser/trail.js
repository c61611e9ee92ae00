/**
 * What was answered so far. A trail is a list of steps, oldest first; it lives in the browser's own history
 * entries, so Back, Forward and Reload keep it, and nothing is stored anywhere else.
 *
 * @typedef {{at: string, exit: number, typed?: string, said?: true}} Step
 *   at: node id; exit: which of its answers; typed: the reading as shown; said: taken over from the caller
 * @typedef {{trail: Step[], carry: Record<string, string>, from?: string, replay?: import("./replay.js").Replay}} Place
 *   from: the node a link led straight to, when the walk did not begin at the start; replay: the walk shown again
 */

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
export function soundPlace(walk, { trail = [], carry = {}, from, replay }) {
  if (from && !walk.nodes.has(from)) return { trail: [], carry };
  let at = from ?? walk.start;
  for (const step of trail) {
    const exit = step.at === at && walk.exits(at)[step.exit];
    if (!exit) return { trail: [], carry };
    at = exit.dataset.go;
  }
  return { trail, carry, from, replay };
}

/** One step in words. @param {Step} step */
export function stepWords(walk, step) {
  const answer = walk.exits(step.at)[step.exit].dataset.words;
  const typed = step.typed ? `${step.typed} \u2014 ` : "";
  const said = step.said ? " (as the caller said)" : "";
  return { asked: walk.heading(step.at).textContent.trim(), given: typed + answer + said };
}

/** The whole trail as numbered plain text, for the job record. @param {Place} place */
export function trailLines(walk, { trail, from }) {
  const lines = trail.map((step, i) => {
    const { asked, given } = stepWords(walk, step);
    return `${i + 1}. ${asked}\n   ${given}`;
  });
  return from ? ["(Begun part-way by a link; earlier answers are not known.)", ...lines] : lines;
}
