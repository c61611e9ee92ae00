/**
 * Puts an answer of calc.calculators into the page, in the same elements as build_tools/pages/calculator.html.
 *
 * @typedef {{label: string, cells: string[]}} Row
 * @typedef {{title: string, columns: string[], rows: Row[]}} Table
 * @typedef {{summary: string[], tables: Table[], drawing: string, warnings: string[]}} Answer
 */

import { painted } from "../page/painted.js";

const RESULTS = "Results"; // as calc.results
const READERS = ["data-away", "open"]; // story.js hides a picture by the one, readers unfold words by the other
const WORK_MS = 8; // between two frames: laying out what was put in takes as long again, and more

/** A figure and its unit stay on one line; as build_tools/guide/wording.py. @param {string} words */
const unitsKept = (words) => words.replace(/(\d) (?=[^\s\d]{1,3}(?:[\s.,;:)]|$))/g, "$1\u00a0");

let newest;
let shown = 0;

/**
 * A piece at a time, so that the page never stands still; what stays as it was is left alone.
 * @param {(name: string) => HTMLElement} part finds a part of the page by name @param {Answer} answer
 * @returns {Promise<boolean>} false when a newer answer came meanwhile
 */
export async function drawAnswer(part, answer) {
  newest = answer;
  shown = performance.now();
  part("summary").replaceChildren(...answer.summary.map((line) => element("span", unitsKept(line))));
  part("headline").textContent = unitsKept(answer.summary[0] ?? "");
  const warnings = answer.warnings.map((line) => element("li", unitsKept(line)));
  warnings.forEach((line) => line.dataset.caution = part("warnings").dataset.caution);
  part("warnings").replaceChildren(...warnings);
  const results = answer.tables.filter(({ title }) => title === RESULTS);
  const others = answer.tables.filter((one) => !results.includes(one));
  for (const [place, make] of [
    [part("results"), () => results.map(table)],
    [part("drawing"), () => drawn(answer.drawing)],
    [part("tables"), () => others.map(table)],
  ]) {
    await pause();
    const fresh = make();
    await pause();
    if (newest !== answer || !(await renew(place, fresh, () => newest === answer))) return false;
  }
  return true;
}

/** @param {string} markup our own Python wrote it */
function drawn(markup) {
  const template = document.createElement("template");
  template.innerHTML = markup;
  return [...template.content.children];
}

/** Makes what stands in a place as fresh elements are; of a story, picture by picture. */
async function renew(place, fresh, wanted) {
  for (const [i, element] of fresh.entries()) {
    const old = place.children[i];
    if (!old) place.append(element);
    else if (old.matches(".ln-story") && element.matches(".ln-story")) {
      if (!(await renew(old, [...element.children], wanted))) return false;
    } else if (!old.isEqualNode(element)) liken(old, element);
    else continue;
    await pause();
    if (!wanted()) return false;
  }
  [...place.children].slice(fresh.length).forEach((old) => giveUp(old));
  return true;
}

/**
 * Changes what differs and nothing else: the browser lays out less, and whoever stands in it by keys stays there.
 * @param {Element} old @param {Element} fresh given up for it
 */
function liken(old, fresh) {
  for (const { name } of [...old.attributes]) if (!fresh.hasAttribute(name) && !READERS.includes(name)) old.removeAttribute(name);
  for (const { name, value } of fresh.attributes) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
  const after = [...fresh.childNodes];
  [...old.childNodes].slice(after.length).forEach((node) => giveUp(node));
  for (const [i, node] of after.entries()) {
    const stood = old.childNodes[i];
    if (!stood) old.append(node);
    else if (stood.nodeName !== node.nodeName) giveUp(stood, node);
    else if (node instanceof Element) liken(stood, node);
    else if (stood.data !== node.data) stood.data = node.data;
  }
}

/** Takes away what an answer no longer has; whoever stands in it by keys is left at the answer. */
function giveUp(old, ...instead) {
  const answer = old.contains(document.activeElement) && old.parentElement.closest("section");
  old.replaceWith(...instead);
  if (!answer) return;
  answer.tabIndex = -1;
  answer.focus({ preventScroll: true });
}

/** Lets the page hear its reader, and on a slow device show what there is before more is put into it. */
async function pause() {
  if (performance.now() - shown < WORK_MS) return globalThis.scheduler?.yield?.() ?? new Promise((resume) => setTimeout(resume));
  await painted();
  shown = performance.now();
}

/** @param {Table} content */
function table({ title, columns, rows }) {
  const head = element("thead", element("tr", ...columns.map((name) => scoped("col", name))));
  const body = element("tbody", ...rows.map(({ label, cells }) =>
    element("tr", scoped("row", label), ...cells.map((cell) => element("td", unitsKept(cell))))));
  const figures = element("table", element("caption", title), head, body);
  figures.className = "ln-figures";
  const framed = element("div", figures);
  Object.entries({ class: "ln-table", role: "region", tabindex: "0", "aria-label": title })
    .forEach(([name, value]) => framed.setAttribute(name, value));
  return framed;
}

function scoped(scope, words) {
  const cell = element("th", words);
  cell.scope = scope;
  return cell;
}

/** @param {string} name @param {...(string | Node)} children */
function element(name, ...children) {
  const made = document.createElement(name);
  made.append(...children);
  return made;
}
