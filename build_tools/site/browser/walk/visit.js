/**
 * One visit to the page of a tree: what the modules of a walk hand one another. Three of its fields change: `now`
 * with every answer, `later` and `isReloaded` when a place is taken up.
 *
 * @typedef {object} Visit
 * @property {HTMLElement} root the element with data-walk
 * @property {HTMLElement} page the element with data-tree, around it
 * @property {import("./walk.js").Walk} walk
 * @property {(name: string) => HTMLElement} part the element of the page with that data-part
 * @property {(name: string, values?: object) => string} words
 * @property {boolean} call whether it is made on the telephone
 * @property {ReturnType<import("../job/job-of-walk.js").jobOfWalk>} job
 * @property {import("./trail.js").Place} now
 * @property {string} [later] the later point that a link into a call names
 * @property {boolean} isReloaded whether the page was reloaded and its place is not yet taken up
 */

import { isCall } from "../job/job.js";
import { wordsIn } from "../page/words.js";
import { hereOf, stepWords } from "./trail.js";
import { walkOf } from "./walk.js";

/** A visit that has come nowhere yet; its job is still to be given. @param {HTMLElement} root @returns {Visit} */
export function visitOf(root) {
  const page = root.closest("[data-tree]");
  return {
    root,
    page,
    walk: walkOf(root),
    part: (name) => page.querySelector(`[data-part="${name}"]`),
    words: wordsIn(page),
    call: isCall({ page: page.dataset.address }),
    job: undefined,
    now: { trail: [], carry: {} },
    later: undefined,
    isReloaded: performance.getEntriesByType("navigation")[0]?.type === "reload",
  };
}

/** The node that was reached. @param {Visit} visit */
export const here = ({ walk, now }) => hereOf(walk, now);

/** What was answered at a step, in words. @param {Visit} visit @param {import("./trail.js").Step} step */
export const givenAt = ({ walk, words }, step) => stepWords(walk, step, ` ${words("as-said")}`).given;
