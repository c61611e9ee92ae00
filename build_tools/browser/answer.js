/**
 * Puts an answer of calc.calculators into the page, in the same elements as build_tools/pages/calculator.html.
 *
 * @typedef {{label: string, cells: string[]}} Row
 * @typedef {{title: string, columns: string[], rows: Row[]}} Table
 * @typedef {{summary: string[], tables: Table[], drawing: string, warnings: string[]}} Answer
 */

const RESULTS = "Results"; // as calc.results

/** @param {(name: string) => HTMLElement} part finds a part of the page by name @param {Answer} answer */
export function drawAnswer(part, answer) {
  part("summary").replaceChildren(...answer.summary.map((line) => element("span", line)));
  const warnings = answer.warnings.map((line) => element("li", line));
  warnings.forEach((line) => line.dataset.caution = part("warnings").dataset.caution);
  part("warnings").replaceChildren(...warnings);
  part("drawing").innerHTML = answer.drawing; // our own Python drew it
  const results = answer.tables.filter(({ title }) => title === RESULTS);
  part("results").replaceChildren(...results.map(table));
  part("tables").replaceChildren(...answer.tables.filter((one) => !results.includes(one)).map(table));
}

/** @param {Table} content */
function table({ title, columns, rows }) {
  const head = element("thead", element("tr", ...columns.map((name) => scoped("col", name))));
  const body = element("tbody", ...rows.map(({ label, cells }) =>
    element("tr", scoped("row", label), ...cells.map((cell) => element("td", cell)))));
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
