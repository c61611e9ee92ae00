/**
 * The answer that stands ready at a question: given here before it was taken back, or by the caller. One press takes it.
 *
 * @typedef {{form: string, link: HTMLAnchorElement, how: import("./place.js").How}} Ready
 *   form: the template that shows it
 */
import { givenWords } from "../job/job-text.js";

/** @param {import("./visit.js").Visit} visit @param {string} at @returns {Ready | undefined} */
export function ready(visit, at) {
  if (visit.now.replay || visit.walk.nodes.get(at).hasAttribute("data-change-from")) return undefined;
  const before = visit.job.before(at), said = saidAt(visit, at);
  if (before) return { form: "before-form", link: before.link, how: before.typed ? { typed: before.typed } : {} };
  return said && { form: "said-form", link: said, how: { said: true } };
}

/** The answer the caller gave to the question at `at`, if this walk carries one. */
function saidAt({ walk, now }, at) {
  const said = now.carry[walk.nodes.get(at).dataset.remember];
  return said && walk.exits(at).find((exit) => exit.dataset.is === said);
}

/**
 * Shows what is ready, to be accepted with one press.
 * @param {import("./visit.js").Visit} visit @param {string} at
 * @param {(link: HTMLAnchorElement, how: import("./place.js").How) => void} answer
 */
export function offer(visit, at, answer) {
  const { page, part, walk } = visit;
  page.querySelectorAll("[data-said]").forEach((box) => box.remove());
  const found = ready(visit, at);
  if (!found) return;
  const { form, link, how } = found;
  const box = part(form).content.firstElementChild.cloneNode(true);
  box.querySelector("strong").textContent = givenWords({ typed: how.typed, answer: link.dataset.words });
  box.querySelector("button").addEventListener("click", (event) => isFirst(event) && answer(link, how));
  walk.nodes.get(at).querySelector("form[data-reading], ul.ln-answers").before(box);
}

/** The second press of a double press would answer the next question unread. @param {MouseEvent} event */
export const isFirst = (event) => event.detail < 2;
