/**
 * Finding: what a caller says or a crew sees, in their words, by keyboard alone. What can be found stands in a script
 * that is loaded when the box is first used, since from a folder a page may not fetch.
 *
 * @typedef {{id: number, kind: string, title: string, about: string, heard: string, words: string, page: string}} Entry
 */
import MiniSearch from "minisearch";

import { hearing } from "./phrases.js";
import { wordsIn } from "../page/words.js";

const ROOT = new URL("..", document.currentScript.src).href;
const MOST = 8;
const WEIGHT = 3; // of a word that tells of danger

/** @type {Promise<(said: string, first: string) => Entry[]> | undefined} */
let finding;

/** Loads what can be found, once; when that failed, once more. */
function finder() {
  finding ??= new Promise((done, failed) => {
    globalThis.lostNeutralFind = (found) => done(finderOf(found));
    const script = document.createElement("script");
    script.src = `${ROOT}assets/find-in.js`;
    script.onerror = () => failed(Error(script.src));
    document.head.append(script);
  });
  finding.catch(() => (finding = undefined));
  return finding;
}

/**
 * @param {{entries: Entry[], same: string[][], telling: string[], dangers: {title: string, page: string,
 *   phrases: import("./phrases.js").Phrase[]}[]}} found for `same` and `telling` see synonyms.yaml
 */
async function finderOf({ entries, same: groups, telling, dangers }) {
  const meant = new Set(entries.flatMap(({ title, about, heard, words }) =>
    `${title} ${about} ${heard} ${words}`.toLowerCase().match(/[\p{L}\p{N}]+/gu) ?? []));
  const heard = dangers.map(({ title, page, phrases }) =>
    ({ kind: "danger", title, about: "", page, isIn: hearing(phrases, (word) => meant.has(word)) }));
  const same = new Map(groups.flatMap((group) => group.map((word) => [word, group])));
  const weighty = new Set(telling.flatMap((word) => same.get(word) ?? word));
  const plain = (word) => word.toLowerCase().replace(/['\u2019]s$/, "");
  const index = new MiniSearch({
    fields: ["title", "heard", "about", "words"],
    storeFields: ["kind", "title", "about", "page"],
    processTerm: plain,
  });
  await index.addAllAsync(entries, { chunkSize: 10 }); // so that a letter typed meanwhile shows at once
  return (said, first) => [...heard.filter(({ isIn }) => isIn(said)), ...index.search(said, {
    boost: { heard: 4, title: 3, about: 1.5 },
    boostTerm: (term) => (weighty.has(term) ? WEIGHT : 1),
    boostDocument: (_, __, { kind }) => (kind === "call" && first !== "site" ? 9 : kind === first ? 1.5 : 1),
    prefix: (term) => term.length > 2,
    fuzzy: (term) => (term.length > 3 ? 0.25 : false),
    processTerm: (term) => same.get(plain(term)) ?? plain(term),
  }).slice(0, MOST)];
}

/** @param {HTMLElement} box the element with data-find */
function start(box) {
  const part = (name) => box.querySelector(`[data-part="${name}"]`);
  const words = wordsIn(box), field = part("said"), list = part("found");
  const all = document.querySelector("[data-part=all]"); // what can be gone through while nothing is found
  let asked = 0;

  async function show() {
    const said = field.value.trim(), mine = (asked += 1);
    let found = [];
    try {
      found = said ? (await finder())(said, box.dataset.find) : [];
    } catch {
      part("count").textContent = words("no-index");
      return;
    }
    if (mine !== asked) return;
    list.replaceChildren(...found.map(row));
    list.hidden = !found.length;
    part("none").hidden = !said || Boolean(found.length);
    part("count").textContent = said ? words(found.length ? "found" : "nothing", { count: found.length, said }) : "";
  }

  function row({ kind, title, about, page }) {
    const made = part("entry").content.firstElementChild.cloneNode(true);
    const link = made.querySelector("a");
    made.toggleAttribute("data-danger", kind === "danger");
    link.href = ROOT + page;
    made.querySelector("[data-one=title]").textContent = title;
    made.querySelector("[data-one=about]").textContent = about;
    made.querySelector("[data-one=kind]").textContent = words(`kind-${kind}`);
    return made;
  }

  /** Up and down go through what was found; from the box, Enter opens the first. */
  function move(by) {
    const links = [field, ...((list.hidden && all) || list).querySelectorAll("a")];
    links[Math.min(Math.max(links.indexOf(document.activeElement) + by, 0), links.length - 1)].focus();
  }

  field.addEventListener("focus", () => finder().catch(() => undefined));
  field.addEventListener("input", show);
  for (const place of [box, all]) place?.addEventListener("keydown", pressed);

  /** @param {KeyboardEvent} event */
  async function pressed(event) {
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      move(event.key === "ArrowDown" ? 1 : -1);
    } else if (event.key === "Enter" && event.target === field) {
      event.preventDefault();
      await show();
      list.querySelector("a")?.click();
    } else if (event.key === "Escape") {
      field.value = "";
      field.focus();
      show();
    }
  }

  // From the first letter: whatever is typed on this page goes into the box.
  addEventListener("keydown", (event) => {
    const { key, ctrlKey, metaKey, altKey, target } = event;
    if (ctrlKey || metaKey || altKey || target.closest("input, textarea, select, dialog")) return;
    if (key === "/") event.preventDefault();
    if (/^[\p{L}/]$/u.test(key)) {
      event.stopPropagation(); // the theme has keys of its own
      field.focus();
    }
  }, true);
  box.hidden = false;
  begin();
  addEventListener("pageshow", ({ persisted }) => persisted && begin());

  /** What the last caller said is there to be typed over. */
  function begin() {
    if ("autofocus" in box.dataset || location.hash === "#find") field.focus({ preventScroll: true });
    if (!field.value) return;
    field.select();
    show();
  }
}

document.querySelectorAll("[data-find]").forEach(start);
