/**
 * The jobs that are kept on this device: one entry of the browser's storage each, for this site alone, and one
 * entry that says which of them is open. What cannot be read is left as it is, and stands apart.
 *
 * @typedef {{at: string, exit: number, asked: string, answer: string, typed?: string, said?: true, when: number}} Answered
 *   at: node id; exit: which of its answers; typed: the reading as shown; said: taken over from the caller
 * @typedef {{at: string, asked: string, when: number}} Danger when something dangerous was found, and at which question
 * @typedef {{priority: string, title: string, say: string[], advice: string[], handOver: string, notProven: string, closes: string,
 *   links: string[]}} Outcome in the words of the page
 * @typedef {{format: 1, id: string, guide: string, version: string, build: string, reviewBy: string, tree: string,
 *   page: string, title: string, begun: number, changed: number, count: number, from?: string,
 *   carry: Record<string, string>, answers: Answered[], before: Answered[], dangers: Danger[], outcome?: Outcome,
 *   note: string}} Job
 *   build: the edition's id; page: from the site's root; count: how often it was kept; from: the node it began at,
 *   when that was not the start; before: answers that were taken back, each the last at its node
 */

import { isJob } from "./job-shape.js";

const ROOT = new URL("..", document.currentScript?.src ?? location.href).pathname;
const JOB = `lost-neutral:job:${ROOT}:`, OPEN = `lost-neutral:open:${ROOT}`;

export const newId = () =>
  Date.now().toString(36) + Array.from(crypto.getRandomValues(new Uint8Array(5)), (byte) => (byte % 36).toString(36)).join("");

/** @returns {Job | undefined} the job that is being done, or undefined when none is, or nothing can be kept */
export function openJob() {
  const job = jobWith(tried(() => localStorage.getItem(OPEN)) ?? "");
  return job?.outcome ? undefined : job;
}

/** Whether it is made on the telephone: what is done there is never gone on with unasked. @param {{page: string}} job */
export const isCall = ({ page }) => page.startsWith("trees/call/");

/** @param {string} id @returns {Job | undefined} */
export const jobWith = (id) => (id ? readAt(JOB + id) : undefined);

/** @returns {{jobs: Job[], odd: {id: string, text: string}[]}} the latest first, and entries that are no jobs */
export function keptJobs() {
  const keys = tried(() => Object.keys(localStorage).filter((key) => key.startsWith(JOB))) ?? [];
  const read = keys.map((key) => [key, readAt(key)]);
  return {
    jobs: read.flatMap(([, job]) => job ?? []).sort((a, b) => b.changed - a.changed || b.count - a.count),
    odd: read.flatMap(([key, job]) => (job ? [] : { id: key.slice(JOB.length), text: localStorage.getItem(key) ?? "" })),
  };
}

/**
 * Keep a job as it is now.
 * @param {Job} job its `count` goes up when it is kept
 * @param {boolean} [isDone] whether it is the one that is being done
 * @returns {"kept" | "full" | "denied" | "elsewhere"} elsewhere: another window has gone on with it meanwhile
 */
export function keep(job, isDone = true) {
  try {
    const there = jobWith(job.id);
    if (there ? there.count !== job.count : localStorage.getItem(JOB + job.id) !== null) return "elsewhere";
    localStorage.setItem(JOB + job.id, JSON.stringify({ ...job, count: job.count + 1 }));
    job.count += 1;
    if (isDone) localStorage.setItem(OPEN, job.id);
    dispatchEvent(new CustomEvent("ln-job"));
    return "kept";
  } catch (error) {
    return error?.name === "QuotaExceededError" ? "full" : "denied";
  }
}

/** Leave a job as it stands: it is no longer the one that is being done. @param {string} id */
export function putAside(id) {
  if (tried(() => localStorage.getItem(OPEN)) === id) tried(() => localStorage.removeItem(OPEN));
  dispatchEvent(new CustomEvent("ln-job"));
}

/** @param {string[]} ids */
export function forget(ids) {
  for (const id of ids) tried(() => localStorage.removeItem(JOB + id));
  const open = tried(() => localStorage.getItem(OPEN));
  if (ids.includes(open)) putAside(open);
}

/** Calls back when another window has changed that job. @param {() => string | undefined} id */
export const onChangedElsewhere = (id, then) =>
  addEventListener("storage", ({ key }) => id() && key === JOB + id() && then());

/** @returns {Job | undefined} */
function readAt(key) {
  const job = tried(() => JSON.parse(localStorage.getItem(key) ?? "null"));
  return isJob(job) && JOB + job.id === key ? job : undefined;
}

/** Some browsers deny storage by throwing. @template T @param {() => T} act @returns {T | undefined} */
function tried(act) {
  try {
    return act();
  } catch {
    return undefined;
  }
}
