/**
 * Compiles what the pages' Python loads when it starts, with that very Python, so that no reader waits for it.
 *
 * node compile-python.mjs PYODIDE CALC_ZIP OUT
 *   PYODIDE  folder of the pyodide package
 *   CALC_ZIP our package as source
 *   OUT      folder for python_stdlib.zip and calc.zip
 *
 * Modules that are not loaded at the start stay source. Fails when a module of ours cannot be imported there.
 */
import { readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

const COMPILE = `
import importlib.util, pkgutil, sys, zipfile
from importlib._bootstrap_external import _code_to_hash_pyc

import calc
for module in pkgutil.walk_packages(calc.__path__, "calc."):
    importlib.import_module(module.name)
loaded = {module.__file__ for module in list(sys.modules.values()) if getattr(module, "__file__", None)}

def compiled(source, path):
    code = compile(source, path, "exec", dont_inherit=True)
    return _code_to_hash_pyc(code, importlib.util.source_hash(source), False)

for old_name, new_name in (("/lib/python%d%d.zip" % sys.version_info[:2], "/stdlib.zip"), ("/calc.zip", "/compiled.zip")):
    with zipfile.ZipFile(old_name) as old, zipfile.ZipFile(new_name, "w") as new:
        for name in sorted(old.namelist()):
            content, path = old.read(name), f"{old_name}/{name}"
            if path in loaded:
                name, content = name + "c", compiled(content, path)
            new.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), content)
`;

const [folder, calcZip, out] = process.argv.slice(2).map((path) => resolve(path));
const { loadPyodide } = await import(pathToFileURL(join(folder, "pyodide.mjs")).href);
const python = await loadPyodide({
  indexURL: folder,
  fsInit: async (FS) => FS.writeFile("/calc.zip", readFileSync(calcZip)),
  env: { PYTHONPATH: "/calc.zip", PYTHONHASHSEED: "0" },
});
try {
  python.runPython(COMPILE);
} catch (error) {
  console.error(error.message); // Python's own words, without the source of Pyodide around them
  process.exit(1);
}
writeFileSync(join(out, "python_stdlib.zip"), python.FS.readFile("/stdlib.zip"));
writeFileSync(join(out, "calc.zip"), python.FS.readFile("/compiled.zip"));
