/**
 * Python with our `calc` package. It does not start: its memory as it was once started, when the site was built, is
 * laid in place. Made out of blobs, so that it works the same over HTTP and from a folder. Runs in the worker, or in
 * the page itself where no worker can be had.
 */
import { ZSTDDecoder } from "zstddec";

const PAGE = 4096;
const ZSTANDARD = 0xfd2fb528; // how a packed file begins

const unpacker = new ZSTDDecoder();

/**
 * Answers one question: calls calc.calculators.answer_json.
 * @typedef {(calculator: string, raw: string, data: string) => string} Answerer
 */

/**
 * @param {Record<string, Blob>} files what python-files.js gathers
 * @returns {Promise<Answerer>}
 */
export async function startPython(files) {
  await unpacker.init(); // throws where a policy bars WebAssembly
  const program = addressOf(await unpacked(files["pyodide.asm.wasm"]), "application/wasm");
  const library = addressOf("", "application/zip"); // what is needed of it is in the memory
  const lock = new TextDecoder().decode(await unpacked(files["pyodide-lock.json"]));
  const { loadPyodide } = await imported(files["pyodide.mjs"]);
  const memory = unpacked(files.memory);
  const glue = imported(files["pyodide.asm.mjs"]);
  const python = await loadPyodide({
    createPyodideModule: async (settings) => {
      const module = await (await glue).default(settings); // the program is being compiled meanwhile
      complete(await memory, module.HEAPU8);
      return module;
    },
    _loadSnapshot: memory.then((shipped) => shipped.subarray(PAGE)),
    indexURL: `${program}#`, // Pyodide appends the file's name, which is a fragment here
    stdLibURL: library,
    lockFileContents: lock,
    packageBaseUrl: "none:", // no package is ever fetched
  });
  [program, library].forEach(URL.revokeObjectURL);
  return python.pyimport("calc.calculators").answer_json;
}

const addressOf = (content, type) => URL.createObjectURL(new Blob([content], { type }));

/** A file's bytes; some servers have unpacked it on the way. @param {Blob} file */
async function unpacked(file) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  return new DataView(bytes.buffer).getUint32(0, true) === ZSTANDARD ? unpacker.decode(bytes) : bytes;
}

async function imported(file) {
  const address = addressOf(await unpacked(file), "text/javascript");
  try {
    return await import(address);
  } finally {
    URL.revokeObjectURL(address);
  }
}

/**
 * Makes the snapshot whole, in place: build_tools/setup/node/python-memory.mjs says what is shipped of it.
 * @param {Uint8Array} shipped @param {Uint8Array} fresh memory of a program that has not started
 */
function complete(shipped, fresh) {
  const snapshot = shipped.subarray(PAGE);
  const [, head] = new Uint32Array(snapshot.buffer, snapshot.byteOffset, 2);
  for (let page = 0; page < PAGE; page++) {
    if (!shipped[page]) continue;
    for (let at = page * PAGE; at < (page + 1) * PAGE; at++) snapshot[head + at] ^= fresh[at];
  }
}
