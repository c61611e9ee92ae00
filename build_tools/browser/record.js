/** The record of a walk: what was answered and where it led, to read back, copy or print. Kept nowhere. */
import { trailLines } from "./trail.js";

/**
 * @param {HTMLElement} page the element with data-tree
 * @param {(name: string) => HTMLElement} part
 */
export function enhanceRecord(page, part) {
  const record = part("record"), text = part("record-text"), said = part("copied");

  page.addEventListener("ln-arrived", ({ detail: { at, place, walk } }) => {
    const node = walk.nodes.get(at);
    record.hidden = !("outcome" in node.dataset) || Boolean(place.replay); // a replay is no job
    said.textContent = "";
    if (record.hidden) return;
    node.append(record);
    text.value = recordText(page, walk, place, node);
    text.rows = Math.min(24, text.value.split("\n").length + 1);
  });
  part("copy").addEventListener("click", async () => {
    said.textContent = (await copied(text))
      ? "Copied."
      : "This browser would not copy it. The text is selected: copy it from there.";
  });
  part("print").addEventListener("click", () => print());
}

function recordText({ dataset }, walk, place, node) {
  const list = (name) => [...node.querySelectorAll(`[data-list=${name}] > *`)].map((item) => `   - ${words(item)}`);
  const one = (name) => words(node.querySelector(`[data-one=${name}]`));
  const block = (title, lines) => (lines.length && lines[0] ? ["", title, ...lines] : []);
  const links = [...node.querySelectorAll("a[data-carries]")].map((link) => `   ${words(link)}: ${link.href}`);
  return [
    dataset.heading,
    `Version ${dataset.version}, review by ${dataset.reviewBy}. Made ${new Date().toLocaleString()}.`,
    ...block("ANSWERS", trailLines(walk, place)),
    ...block("OUTCOME", [`   ${one("priority")}`, `   ${words(walk.heading(node.dataset.node))}`]),
    ...block("ADVICE", list("advice")),
    ...block("HAND OVER", one("hand-over") ? [`   ${one("hand-over")}`] : []),
    ...block("NOT PROVEN BY THIS", one("not-proven") ? [`   ${one("not-proven")}`] : []),
    ...block("SITE TREES", links),
  ].join("\n");
}

const words = (element) => element?.textContent.trim().replace(/\s+/g, " ") ?? "";

async function copied(text) {
  try {
    await navigator.clipboard.writeText(text.value);
    return true;
  } catch {
    text.focus();
    text.select();
    return document.execCommand("copy");
  }
}
