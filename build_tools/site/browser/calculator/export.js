/**
 * An answer taken away: as text, as CSV (as the command `calculate --csv` writes it), or on paper. All of it is read
 * from the page, so it is what stands there, stale or not.
 */

/** @param {HTMLElement} root a calculator's page @param {(name: string) => HTMLElement} part @param {(name: string) => string} say */
export function offerExports(root, part, say) {
  const does = {
    text: async () => say((await copied(asText(root, part, say))) ? "copied" : "not-copied"),
    csv: () => (save(`${root.dataset.calculator}.csv`, asCsv(root, part, say)), say("saved")),
    print: () => (print(), ""),
  };
  part("export").addEventListener("click", async ({ target }) => {
    const how = does[target.dataset?.export];
    if (how) part("exported").textContent = await how();
  });
  part("export").hidden = false;
}

const words = (element) => element.textContent.replace(/\s+/g, " ").trim();
const all = (root, selector) => [...root.querySelectorAll(selector)].map(words);

/** @returns {[label: string, value: string][]} */
const inputs = (root, say) =>
  [...root.querySelectorAll("form [data-field]")].map((field) => {
    const control = field.querySelector(":is(input, select)[name]");
    const unit = field.querySelector(".ln-unit")?.textContent.slice(1, -1) ?? "";
    const label = words(field.querySelector("label")).replace(` (${unit})`, "");
    if (control.type === "checkbox") return [label, say(control.checked ? "yes" : "no")];
    if (control.localName === "select") return [label, control.selectedOptions[0]?.text ?? ""];
    return [label, control.value ? `${control.value} ${/[a-zΩ%]/i.test(control.value) ? "" : unit}`.trim() : say("not-given")];
  });

/** @returns {{title: string, columns: string[], rows: string[][]}[]} */
const tables = (root) =>
  [...root.querySelectorAll(".ln-answer table")].map((table) => ({
    title: words(table.caption),
    columns: all(table, "thead th"),
    rows: [...table.tBodies[0].rows].map((row) => [...row.cells].map(words)),
  }));

function asText(root, part, say) {
  const list = (title, lines) => (lines.length ? [title, ...lines.map((line) => `- ${line}`), ""] : []);
  return [
    words(root.querySelector("h1")),
    location.href,
    "",
    ...(["stale", "failed"].includes(root.dataset.state) ? [words(part("status")), ""] : []),
    ...list(say("given"), inputs(root, say).map((pair) => pair.join(": "))),
    ...all(part("summary"), "span"),
    "",
    ...tables(root).flatMap(({ title, columns, rows }) => [title, columns.join(" | "), ...rows.map((row) => row.join(" | ")), ""]),
    ...list(say("beware"), all(part("warnings"), "li")),
    ...list(say("cautions"), all(root, ".ln-cautions li")),
    ...list(say("sources"), all(root, ".ln-sources li")),
  ].join("\n");
}

/** A line for each figure: which part, which row, which column, and the figure. */
function asCsv(root, part, say) {
  const lines = [
    ["part", "row", "column", "value"],
    ...inputs(root, say).map(([label, value]) => ["Input", label, "", value]),
    ...all(part("summary"), "span").map((line) => ["Summary", "", "", line]),
    ...all(part("warnings"), "li").map((line) => ["Warning", "", "", line]),
    ...tables(root).flatMap(({ title, columns, rows }) =>
      rows.flatMap(([label, ...cells]) => cells.map((cell, place) => [title, label, columns[place + 1], cell]))),
  ];
  const quoted = (cell) => (/[",\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell);
  return lines.map((line) => `${line.map(quoted).join(",")}\r\n`).join("");
}

async function copied(text) {
  if (navigator.clipboard) return navigator.clipboard.writeText(text).then(() => true, () => byHand(text));
  return byHand(text);
}

/** Where a page may not reach the clipboard: without HTTPS, on an intranet. */
function byHand(text) {
  const box = Object.assign(document.createElement("textarea"), { value: text });
  document.body.append(box);
  const focused = document.activeElement;
  box.select();
  const done = document.execCommand("copy");
  box.remove();
  focused?.focus();
  return done;
}

function save(name, text) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob(["\ufeff", text], { type: "text/csv" }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}
