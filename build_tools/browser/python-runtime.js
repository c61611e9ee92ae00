/**
 * Python with our `calc` package, started out of blobs so that it works the same over HTTP and from a folder.
 * Runs in the worker, or in the page itself where no worker can be had.
 */

/**
 * Answers one question: calls calc.calculators.answer_json.
 * @typedef {(calculator: string, raw: string, data: string) => string} Answerer
 */

/**
 * @param {Record<string, Blob>} files what python-files.js gathers
 * @returns {Promise<Answerer>}
 */
export async function startPython(files) {
  const address = Object.fromEntries(Object.entries(files).map(([name, blob]) => [name, URL.createObjectURL(blob)]));
  const [{ loadPyodide }, { default: createPyodideModule }, lockFileContents, calc] = await Promise.all([
    import(address["pyodide.mjs"]),
    import(address["pyodide.asm.mjs"]),
    files["pyodide-lock.json"].text(),
    files["calc.zip"].arrayBuffer(),
    WebAssembly.compile(new Uint8Array([0, 97, 115, 109, 1, 0, 0, 0])), // throws where a policy bars WebAssembly
  ]);
  const python = await loadPyodide({
    createPyodideModule,
    lockFileContents,
    indexURL: `${address["pyodide.asm.wasm"]}#`, // Pyodide appends the file's name, which is a fragment here
    stdLibURL: address["python_stdlib.zip"],
    packageBaseUrl: "none:", // no package is ever fetched
    fsInit: async (FS) => FS.writeFile("/calc.zip", new Uint8Array(calc)),
    env: { PYTHONPATH: "/calc.zip" },
  });
  Object.values(address).forEach(URL.revokeObjectURL);
  return python.pyimport("calc.calculators").answer_json;
}
