/** The record of a job at its outcome: what was answered and where it led, to read back, note, copy or print. */
import { copied, jobText } from "./job-text.js";

/**
 * @param {HTMLElement} page the element with data-tree
 * @param {(name: string) => HTMLElement} part
 * @param {(name: string, values?: object) => string} words
 * @param {ReturnType<import("./job-of-walk.js").jobOfWalk>} job
 */
export function enhanceRecord(page, part, words, job) {
  const record = part("record"), text = part("record-text"), note = part("note"), said = part("copied");

  page.addEventListener("ln-arrived", ({ detail: { at, place, walk } }) => {
    const node = walk.nodes.get(at);
    record.hidden = !("outcome" in node.dataset) || Boolean(place.replay) || !job.record; // a replay is no job
    said.textContent = "";
    if (record.hidden) return;
    node.append(record);
    note.value = job.record.note;
    tell();
  });
  note.addEventListener("input", () => (job.note(note.value), tell()));
  part("copy").addEventListener("click", async () => {
    said.textContent = words((await copied(text)) ? "copied" : "not-copied");
  });
  part("print").addEventListener("click", () => print());

  function tell() {
    text.value = jobText(job.record, words);
    text.rows = Math.min(24, text.value.split("\n").length + 1);
    part("note-warning").hidden = !LOOKS_PERSONAL.test(note.value);
  }
}

/** Long numbers and addresses of mail: what a note must not hold is most often one of these. */
const LOOKS_PERSONAL = /\d[\d ()-]{5,}\d|\S@\S/;

/** What a node says when it is an outcome. @returns {import("./job.js").Outcome | undefined} */
export function outcomeOf(walk, at) {
  const node = walk.nodes.get(at);
  if (!("outcome" in node.dataset)) return undefined;
  const one = (name) => plain(node.querySelector(`[data-one=${name}]`));
  return {
    priority: one("priority"),
    title: plain(walk.heading(at)),
    say: [...node.querySelectorAll("[data-list=say] > *")].map(plain),
    advice: [...node.querySelectorAll("[data-list=advice] > *")].map(plain),
    handOver: one("hand-over"),
    notProven: one("not-proven"),
    closes: one("closes"),
    links: [...node.querySelectorAll("a[data-carries]")].map((link) => `${plain(link)}: ${link.href}`),
  };
}

const plain = (element) => element?.textContent.trim().replace(/\s+/g, " ") ?? "";
