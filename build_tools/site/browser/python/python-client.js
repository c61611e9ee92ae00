/**
 * The page's side of Python: starts it once, asks one question at a time, and drops answers nobody waits for.
 */
import { fromFolder, pythonFile, pythonFiles } from "./python-files.js";

const START_LIMIT_MS = 90_000; // Pyodide does not say when its start fails half-way
const ANSWER_LIMIT_MS = 20_000;

/**
 * What answers questions, somewhere.
 * @typedef {{ask: (...question: string[]) => Promise<string>, stop: () => void}} Desk
 */

/** @param {string} base address of assets/python/ */
export function pythonClient(base) {
  /** @type {Promise<Desk> | undefined} */
  let desk;
  let newest = 0;
  /** Settles when the question before this one has been answered. @type {Promise<unknown>} */
  let before = Promise.resolve();

  /**
   * @param {...string} question calculator, raw and data, as answer_json takes them
   * @returns {Promise<string | undefined>} undefined when a newer question came meanwhile
   */
  async function ask(...question) {
    const number = ++newest;
    await before;
    if (number !== newest) return undefined;
    const open = (desk ??= openDesk(base));
    const reply = open.then((opened) => opened.ask(...question)).catch((error) => giveUp(error, open));
    before = reply.catch(() => undefined);
    const answer = await reply.catch((error) => {
      if (number === newest) throw error;
    });
    return number === newest ? answer : undefined;
  }

  /** A desk that failed is closed; the next question opens another. */
  function giveUp(error, open) {
    desk = undefined;
    open.then((opened) => opened.stop(), () => undefined);
    throw error;
  }

  return { ask };
}

/** @param {string} base @returns {Promise<Desk>} */
async function openDesk(base) {
  const files = pythonFiles(base);
  return workerDesk(base, files).catch(() => pageDesk(base, files));
}

/** @param {string} base @param {Promise<Record<string, Blob>>} files on their way while the worker starts */
async function workerDesk(base, files) {
  const worker = new Worker(await workerAddress(base), { type: "module" });
  const stop = () => worker.terminate();
  try {
    await exchange(worker, files.then((whole) => ({ files: whole })), START_LIMIT_MS);
  } catch (error) {
    stop();
    throw error;
  }
  return { stop, ask: async (...question) => (await exchange(worker, Promise.resolve({ question }), ANSWER_LIMIT_MS)).answer };
}

/** From a folder only a data: address is allowed for a worker that is a module. */
async function workerAddress(base) {
  const address = `${base}python-worker.js`;
  if (!fromFolder) return address;
  const source = await pythonFile(base, "python-worker.js");
  return `data:text/javascript,${encodeURIComponent(await source.text())}`;
}

/** One message there, when it is there to be sent, and one back. */
function exchange(worker, message, limitMs) {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error("no answer in time")), limitMs);
    worker.onmessage = ({ data }) => (data.failed ? reject(new Error(data.failed)) : resolve(data));
    worker.onerror = (event) => {
      event.preventDefault();
      reject(new Error(event.message || "the worker did not start"));
    };
    worker.addEventListener("message", () => clearTimeout(timer), { once: true });
    message.then((sent) => worker.postMessage(sent), reject);
  });
}

/** Where no worker can be had: in the page itself. @returns {Promise<Desk>} */
async function pageDesk(base, files) {
  const { startPython } = await import(await workerAddress(base));
  const late = new Promise((_, reject) => setTimeout(() => reject(new Error("Python did not start")), START_LIMIT_MS));
  const answer = await Promise.race([startPython(await files), late]);
  return { stop: () => undefined, ask: async (...question) => answer(...question) };
}
