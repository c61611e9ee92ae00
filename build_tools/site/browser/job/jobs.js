/** The page of jobs: what is kept on this device, to go on with, copy, print, save, read in and clear. */
import { Validator } from "@cfworker/json-schema";

import { forget, jobWith, keep, keptJobs, newId } from "./job.js";
import { copied, jobText } from "./job-text.js";
import { wordsIn } from "../page/words.js";

const ROOT = new URL("..", document.currentScript.src).href;
const LARGEST = 1_000_000; // characters of a saved job; a long one has some ten thousand

/** @param {HTMLElement} page */
function start(page) {
  const part = (name) => page.querySelector(`[data-part="${name}"]`);
  const words = wordsIn(page);
  const schema = new Validator(JSON.parse(part("schema").textContent), "2020-12");

  function tell(text) {
    part("trouble").textContent = text;
    part("trouble").hidden = !text;
  }

  function show() {
    const { jobs, odd } = keptJobs();
    part("list").replaceChildren(...jobs.map(row));
    part("odd").hidden = !odd.length;
    part("odd-list").replaceChildren(...odd.map(oddRow));
    part("none").hidden = Boolean(jobs.length);
    part("tools").hidden = false;
    part("clear-all").disabled = !jobs.length && !odd.length;
  }

  /** @param {import("./job.js").Job} job */
  function row(job) {
    const made = part("job").content.firstElementChild.cloneNode(true);
    const one = (name) => made.querySelector(`[data-one="${name}"]`);
    const { outcome } = job, text = jobText(job, words);
    const begun = new Date(job.begun).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
    made.querySelector("h2").textContent = job.title;
    one("state").textContent = words(outcome ? "state-done" : "state-open", {
      begun, count: job.answers.length, priority: outcome?.priority, outcome: outcome?.title,
    });
    one("go-on").href = `${ROOT}${job.page}#job=${job.id}`;
    one("text").value = one("sheet").textContent = text;
    one("text").rows = Math.min(24, text.split("\n").length + 1);
    one("copy").addEventListener("click", () => (made.querySelector("details").open = true));
    copiesItself(one);
    one("save").addEventListener("click", () => save(job));
    one("print").addEventListener("click", () => {
      made.toggleAttribute("data-print", true);
      print();
      made.removeAttribute("data-print");
    });
    one("clear").addEventListener("click", () => sure(words("clear-one"), [job.id]));
    return made;
  }

  /** Its text, at a touch of its button; it says whether that came off. @param {(name: string) => HTMLElement} one */
  function copiesItself(one) {
    one("copy").addEventListener("click", async () => {
      one("said").textContent = words((await copied(one("text"))) ? "copied" : "not-copied");
    });
  }

  /** What is no job, as it is kept: to copy, save and clear by itself. @param {{id: string, text: string}} found */
  function oddRow({ id, text }) {
    const made = part("odd-one").content.firstElementChild.cloneNode(true);
    const one = (name) => made.querySelector(`[data-one="${name}"]`);
    one("text").value = text;
    copiesItself(one);
    one("save").addEventListener("click", () => saved(text, "kept-on-this-device.txt", "text/plain"));
    one("clear").addEventListener("click", () => sure(words("clear-one"), [id]));
    return made;
  }

  /** Asks once, then clears. @param {string[]} ids */
  function sure(question, ids) {
    part("sure-words").textContent = question;
    part("sure").showModal();
    part("clear").onclick = () => {
      forget(ids);
      part("sure").close();
      tell("");
      show();
      page.querySelector("h1").focus();
    };
  }

  /** @param {File} file */
  async function readIn(file) {
    const said = (name, values) => tell(words(name, { file: file.name, ...values }));
    if (file.size > LARGEST) return said("too-large");
    let job;
    try {
      job = JSON.parse(await file.text());
    } catch {
      return said("not-json");
    }
    const { valid, errors } = schema.validate(job);
    if (!valid) return said("not-a-job", { where: errors.at(-1).instanceLocation.replace(/^#\/?/, "") || "the whole" });
    if (job.guide !== page.dataset.guide) return said("other-guide", { guide: job.guide });
    const here = jobWith(job.id);
    if (here?.count >= job.count) return said("is-here", { title: job.title });
    const state = keep(here ? { ...job, id: newId() } : job, false);
    if (state !== "kept") return said(state === "full" ? "no-room" : "no-storage");
    show();
    said(job.build === document.documentElement.dataset.edition ? "read-in" : "read-in-other", job);
  }

  part("file").addEventListener("change", async ({ target }) => {
    if (target.files[0]) await readIn(target.files[0]);
    target.value = "";
  });
  part("keep").addEventListener("click", () => part("sure").close());
  part("clear-all").addEventListener("click", () => {
    const { jobs, odd } = keptJobs();
    sure(words("clear-many", { count: jobs.length + odd.length }), [...jobs, ...odd].map(({ id }) => id));
  });
  addEventListener("storage", show);
  if (!storageWorks()) tell(words("no-storage"));
  show();
}

/** @param {import("./job.js").Job} job */
function save(job) {
  const day = new Date(job.begun).toISOString().slice(0, 16).replace(/[T:]/g, "-");
  saved(JSON.stringify(job, null, 1) + "\n", `job-${day}-${job.tree}.json`, "application/json");
}

function saved(text, name, type) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type }));
  link.download = name;
  link.click();
  URL.revokeObjectURL(link.href);
}

function storageWorks() {
  try {
    localStorage.setItem("lost-neutral:try", "");
    localStorage.removeItem("lost-neutral:try");
    return true;
  } catch {
    return false;
  }
}

document.querySelectorAll("[data-jobs]").forEach(start);
