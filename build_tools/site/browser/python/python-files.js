/**
 * The files Python is made of, as blobs still packed: by fetch where there is a server, and from a folder, where
 * browsers refuse fetch, out of scripts that hold the same bytes as base64.
 */

const NAMES = ["pyodide.asm.wasm", "memory", "pyodide.asm.mjs", "pyodide.mjs", "pyodide-lock.json"];

/** The page lies in a folder, not on a server. */
export const fromFolder = location.protocol === "file:";

/** @param {string} base address of assets/python/ @returns {Promise<Record<string, Blob>>} */
export async function pythonFiles(base) {
  const blobs = await Promise.all(NAMES.map((name) => pythonFile(base, `${name}.bin`)));
  return Object.fromEntries(NAMES.map((name, i) => [name, blobs[i]]));
}

/** One file. @param {string} base @param {string} name @returns {Promise<Blob>} */
export const pythonFile = (base, name) => (fromFolder ? fromScript : fetched)(`${base}${name}`, name);

async function fetched(address) {
  const response = await fetch(address);
  if (!response.ok) throw new Error(`${address} is missing (${response.status})`);
  return response.blob();
}

/** What the scripts call: each hands over its own file. @type {Record<string, (base64: string) => void>} */
const handOver = {};
globalThis.lostNeutralFile = (name, base64) => handOver[name](base64);

function fromScript(address, name) {
  return new Promise((resolve, reject) => {
    handOver[name] = (base64) => resolve(fetched(`data:;base64,${base64}`)); // off the page's own thread
    const script = document.createElement("script");
    script.src = `${address}.js`;
    script.onload = script.onerror = () => {
      script.remove();
      reject(new Error(`${address}.js is missing or damaged`)); // of no effect once it was handed over
    };
    document.head.append(script);
  });
}
