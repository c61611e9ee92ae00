/** The job that is open on this device, if one is: kept by the browser, for this site alone. */

const ROOT = new URL("..", document.currentScript?.src ?? location.href).pathname;
const KEY = `lost-neutral:job:${ROOT}`;

/**
 * @typedef {{format: 1, guide: string, version: string, build: string, tree: string}} Job
 * @returns {Job | undefined} undefined when none is open, or nothing can be kept
 */
export function openJob() {
  try {
    return JSON.parse(localStorage.getItem(KEY) ?? "null") ?? undefined;
  } catch {
    return undefined;
  }
}
