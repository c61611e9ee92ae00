/**
 * The files Python is made of, gathered into blobs: by fetch where there is a server, and from a folder, where
 * browsers refuse fetch, out of scripts that hold the same bytes as base64. All are stored gzipped.
 */

/** Names in assets/python/, each with the type its blob must have. */
const TYPES = {
  "pyodide.mjs": "text/javascript",
  "pyodide.asm.mjs": "text/javascript",
  "pyodide.asm.wasm": "application/wasm",
  "python_stdlib.zip": "application/zip",
  "pyodide-lock.json": "application/json",
  "calc.zip": "application/zip",
};

/** The page lies in a folder, not on a server. */
export const fromFolder = location.protocol === "file:";

/** @param {string} base address of assets/python/ @returns {Promise<Record<string, Blob>>} */
export async function pythonFiles(base) {
  const names = Object.keys(TYPES);
  const blobs = await Promise.all(names.map((name) => pythonFile(base, name)));
  return Object.fromEntries(names.map((name, i) => [name, blobs[i]]));
}

/** One file, unpacked. @param {string} base @param {string} name @returns {Promise<Blob>} */
export async function pythonFile(base, name) {
  const packed = await (fromFolder ? fromScript : fetched)(`${base}${name}.gz`, name);
  const start = new Uint8Array(await packed.slice(0, 2).arrayBuffer());
  const gzipped = start[0] === 0x1f && start[1] === 0x8b; // some servers have unpacked it on the way
  const bytes = gzipped ? packed.stream().pipeThrough(new DecompressionStream("gzip")) : packed.stream();
  return new Blob([await new Response(bytes).arrayBuffer()], { type: TYPES[name] });
}

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
    handOver[name] = (base64) => resolve(new Blob([Uint8Array.from(atob(base64), (c) => c.charCodeAt(0))]));
    const script = document.createElement("script");
    script.src = `${address}.js`;
    script.onload = script.onerror = () => {
      script.remove();
      reject(new Error(`${address}.js is missing or damaged`)); // of no effect once it was handed over
    };
    document.head.append(script);
  });
}
