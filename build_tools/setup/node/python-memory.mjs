/**
 * Starts the pages' Python once, with all of `calc` imported, and writes down its memory, so that no reader waits
 * for that. The same sources always give the same bytes.
 *
 * node python-memory.mjs PYODIDE CALC_ZIP PLAIN OUT
 *   PYODIDE  folder of the pyodide package
 *   CALC_ZIP our package as source
 *   PLAIN    folder of what else the pages carry
 *   OUT      folder for the memory and all of PLAIN, each packed by Zstandard as NAME.bin
 *
 * What is written of the memory is how it differs from that of a program which has not started: the program brings
 * the rest. Fails when a module of ours cannot be imported there.
 */
import { readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { promisify } from "node:util";
import { constants, zstdCompress } from "node:zlib";

const PAGE = 4096;

/** Compiles what is imported: the library without its docstrings, which nobody reads in a page. */
const COMPILE = `
import importlib.util, pkgutil, sys, zipfile
from importlib._bootstrap_external import _code_to_hash_pyc

import calc
for module in pkgutil.walk_packages(calc.__path__, "calc."):
    importlib.import_module(module.name)
loaded = {module.__file__ for module in list(sys.modules.values()) if getattr(module, "__file__", None)}

def compiled(source, path, optimize):
    code = compile(source, path, "exec", dont_inherit=True, optimize=optimize)
    return _code_to_hash_pyc(code, importlib.util.source_hash(source), False)

def compile_all(old_name, new_name, optimize):
    with zipfile.ZipFile(old_name) as old, zipfile.ZipFile(new_name, "w") as new:
        for name in sorted(old.namelist()):
            path = f"{old_name}/{name}"
            if path in loaded:
                new.writestr(name + "c", compiled(old.read(name), path, optimize))

compile_all("/lib/python%d%d.zip" % sys.version_info[:2], "/stdlib.zip", 2)
compile_all("/calc.zip", "/compiled.zip", 0)
`;

/** Imports it, then lets go of what was needed for that alone. */
const IMPORT = `
import gc, importlib, linecache, pkgutil, random, re, sys, zipimport

import calc
for module in pkgutil.walk_packages(calc.__path__, "calc."):
    importlib.import_module(module.name)
random.seed(0)
zipimport._zip_directory_cache.clear()
sys.path_importer_cache.clear()
linecache.clearcache()
re.purge()
gc.collect()
`;

const [folder, calcZip, plain, out] = process.argv.splice(1).slice(1).map((path) => resolve(path));
const { loadPyodide } = await import(pathToFileURL(join(folder, "pyodide.mjs")).href);
const { default: createPyodideModule } = await import(pathToFileURL(join(folder, "pyodide.asm.mjs")).href);
const carried = readdirSync(plain).map((name) => pack(name, readFileSync(join(plain, name)))); // meanwhile

// What would differ from one start to the next.
crypto.getRandomValues = (array) => array.fill(7);
Date.now = () => Date.UTC(1980, 0, 1);
performance.now = () => 0;

const compiling = await start(readFileSync(calcZip));
run(compiling, COMPILE);
const library = join(out, "stdlib.zip");
writeFileSync(library, compiling.FS.readFile("/stdlib.zip"));
const python = await start(compiling.FS.readFile("/compiled.zip"), { stdLibURL: library, _makeSnapshot: true });
rmSync(library);
run(python, IMPORT);
wipe(python._module);
await Promise.all([...carried, pack("memory", differing(python.makeMemorySnapshot(), python))]);

/** Python, with its memory as the program `brought` it, and when it was `ready` to be run. */
async function start(calc, options) {
  let brought, ready;
  const python = await loadPyodide({
    ...options,
    createPyodideModule: (settings) => {
      settings.preRun.push((module) => (brought = module.HEAPU8.slice()));
      settings.onRuntimeInitialized = () => (ready = settings.HEAPU8.slice());
      return createPyodideModule(settings);
    },
    indexURL: folder,
    fsInit: async (FS) => FS.writeFile("/calc.zip", calc),
    env: { PYTHONPATH: "/calc.zip", PYTHONHASHSEED: "0", PYTHONNODEBUGRANGES: "1" },
  });
  return Object.assign(python, { brought, ready });
}

/**
 * What is shipped of a snapshot: a page with one byte for each page of it, 1 where that is told as what differs from what
 * the program brings, 0 for the rest: what the program writes before it is ready may never be twice the same.
 * Then the snapshot, which has a head that says how long it is itself.
 */
function differing(snapshot, python) {
  const { brought, ready } = python;
  const [, head] = new Uint32Array(snapshot.buffer, snapshot.byteOffset, 2);
  const shipped = new Uint8Array(PAGE + snapshot.length);
  shipped.set(snapshot, PAGE);
  for (let from = 0; from + PAGE <= python._module._emscripten_stack_get_end(); from += PAGE) {
    const page = brought.subarray(from, from + PAGE);
    if (Buffer.compare(page, ready.subarray(from, from + PAGE))) continue;
    shipped[from / PAGE] = 1;
    page.forEach((byte, at) => (shipped[PAGE + head + from + at] ^= byte));
  }
  return shipped;
}

async function pack(name, content) {
  const params = { [constants.ZSTD_c_compressionLevel]: 19, [constants.ZSTD_c_windowLog]: 25 };
  writeFileSync(join(out, `${name}.bin`), await promisify(zstdCompress)(content, { params, pledgedSrcSize: content.length }));
}

/** Python's own words when it fails, without the source of Pyodide around them. */
function run(started, source) {
  try {
    started.runPython(source);
  } catch (error) {
    console.error(error.message);
    process.exit(1);
  }
}

/** Memory that was given back still holds what was in it: it is taken once more, filled with zeros and given back. */
function wipe(module) {
  const { _malloc, _free, _PyObject_Malloc, _PyObject_Free } = module;
  const end = module._sbrk(0) >>> 0;
  for (const [take, give, largest] of [[_PyObject_Malloc, _PyObject_Free, 512], [_malloc, _free, 1 << 20]]) {
    const taken = [];
    for (let size = largest; size >= 16; size -= Math.max(16, (size >> 5) << 4)) {
      for (let at = take(size) >>> 0; ; at = take(size) >>> 0) {
        taken.push(at);
        if (at + size > end) break;
        module.HEAPU8.fill(0, at, at + size);
      }
    }
    taken.forEach((at) => give(at));
  }
}
