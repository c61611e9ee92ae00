/**
 * Python off the page's own thread. The page sends {files} once, and gets {ready: true}; then for each
 * {question: [calculator, raw, data]} it gets {answer}. Whatever goes wrong comes back as {failed}.
 * A page that can have no worker imports this for startPython.
 */
import { startPython } from "./python-runtime.js";

export { startPython };

/** @type {import("./python-runtime.js").Answerer} */
let answer;

async function reply({ files, question }) {
  if (question) return { answer: answer(...question) };
  answer = await startPython(files);
  return { ready: true };
}

if (!globalThis.document) {
  self.onmessage = async ({ data }) => self.postMessage(await reply(data).catch((error) => ({ failed: String(error) })));
}
