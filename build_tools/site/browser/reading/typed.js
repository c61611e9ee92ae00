/**
 * The box in which a reading is typed: says which range it falls in, and asks before it goes on. Where the figure
 * decides, its ranges only explain. Nothing that is shown moves anything: the place for words is as high as the
 * longest of them from the start.
 */
import { enhancePad } from "./pad.js";
import { rangeOf, readTyped, shownUnit } from "./reading.js";

/** All that can be said in place of what a figure means, by the names of its words. */
const PROBLEMS = [
  "no-earlier", "type-it", "nothing-typed", "no-answer", "no-number", "spaces", "points", "thousands", "sign", "unit", "other-A", "other-V",
  "other-ohm", "other-Hz",
];

/** What an answer says without its range. @param {HTMLAnchorElement} link */
const labelOf = (link) => link.dataset.words.slice(link.querySelector(".ln-range")?.textContent.length ?? 0);

/**
 * Shows the box of a reading node; other nodes are left alone.
 * @param {HTMLElement} node
 * @param {(name: string, values?: object) => string} words
 * @param {(link: HTMLAnchorElement, how: {typed: string}) => void} accept
 */
export function enhanceReading(node, words, accept) {
  const form = node.querySelector("form[data-reading]");
  if (!form) return;
  const { unit, most = "Infinity" } = form.dataset;
  const box = form.querySelector("input"), answers = [...node.querySelectorAll("a[data-exit=range]")];
  const over = node.querySelector("a[data-exit=over_range]");
  const [shown, value, meaning, problem, button] = ["shown", "value", "meaning", "problem", "accept"].map(
    (name) => form.querySelector(`[data-${name}]`));
  const told = form.querySelector("[data-told]"), plain = button.textContent;
  const explaining = node.querySelectorAll("a[data-explains]");
  const carrying = [...node.querySelectorAll("a[data-asks]")].map((link) => [link, link.href]); // into calculators
  const judgesChange = node.hasAttribute("data-change-from"), said = (figure) => `${figure} ${shownUnit(unit)}`;
  let chosen;

  /** What a typed figure means: by itself, or by how far it has moved from the one before. */
  function meant(figure) {
    if (!judgesChange) return { link: rangeOf(answers, figure), typed: said(figure) };
    const before = readTyped(node.dataset.earlier ?? "", unit).value;
    if (before === undefined) return {};
    const moved = Number((figure - before).toFixed(6)), by = Math.abs(moved), link = rangeOf(answers, by);
    const values = { by: said(by), before: said(before), answer: link && labelOf(link) };
    return {
      link,
      typed: words("from", { now: said(figure), before: said(before) }),
      meaning: words(moved < 0 ? "moved-down" : "moved-up", values),
    };
  }

  function place() {
    chosen = undefined;
    const typed = box.value.trim() ? readTyped(box.value, unit) : {};
    if (typed.over || typed.value > Number(most)) {
      chosen = { link: over, typed: typed.over ? words("over-range") : said(typed.value) };
    } else if (typed.value !== undefined) {
      chosen = meant(typed.value);
    }
    if (chosen && !chosen.typed) {
      typed.problem = "no-earlier";
      chosen = undefined;
    } else if (chosen && !chosen.link) {
      typed.problem = "no-answer";
      chosen = undefined;
    }
    for (const [link, plain] of carrying) {
      link.href = typed.value === undefined ? plain : `${plain}&${link.dataset.asks}=${typed.value}`;
    }
    shown.hidden = !chosen;
    say(typed.problem ? words(typed.problem, typed.values) : "");
    box.toggleAttribute("aria-invalid", Boolean(typed.problem));
    answers.concat(over ?? []).forEach((link) => link.toggleAttribute("data-match", link === chosen?.link));
    button.textContent = chosen ? words("accept", { value: chosen.typed }) : plain;
    if (!chosen) return;
    value.textContent = chosen.typed;
    meaning.textContent = typed.value > Number(most)
      ? words("more-than-shown", { most: `${most} ${shownUnit(unit)}`, answer: over.dataset.words })
      : chosen.meaning ?? chosen.link.dataset.words;
  }

  /** What is wrong with what was typed, in place of what it means. */
  function say(trouble) {
    problem.textContent = trouble;
    if (trouble) shown.hidden = true;
  }

  /** Keeps room for everything that can be said here. */
  function keepRoom() {
    const widest = `${most === "Infinity" ? "00000.00" : `${most}.00`} ${shownUnit(unit)}`;
    const longest = said("00000.00"), moved = (answer) => words("moved-down", { by: longest, before: longest, answer });
    const meanings = answers.concat(over ?? []).map((link) => (judgesChange ? moved(labelOf(link)) : link.dataset.words));
    if (over) meanings.push(words("more-than-shown", { most: `${most} ${shownUnit(unit)}`, answer: over.dataset.words }));
    for (const meaning of meanings) {
      const room = shown.cloneNode(true);
      room.querySelector("b").textContent = widest;
      room.querySelector("span").textContent = meaning;
      keep(room);
    }
    const values = { digits: "0000000", decimal: "0000.000", whole: "0000000", typed: "0000", unit: shownUnit(unit) };
    for (const name of PROBLEMS) {
      const room = problem.cloneNode(true);
      room.textContent = words(name, values);
      keep(room);
    }
  }

  function keep(room) {
    for (const part of [room, ...room.children]) {
      for (const { name } of [...part.attributes]) if (name !== "class" && name !== "dir") part.removeAttribute(name);
    }
    room.setAttribute("aria-hidden", "true");
    room.classList.add("ln-room");
    told.append(room);
  }

  form.hidden = false;
  keepRoom();
  for (const link of explaining) link.removeAttribute("href");
  for (const note of node.querySelectorAll(".ln-scale")) note.hidden = false;
  node.addEventListener("ln-explained", () => {
    if (!chosen) say(words("type-it"));
    box.focus({ preventScroll: true });
  });
  enhancePad(form, box);
  box.addEventListener("input", place);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    place();
    if (chosen) {
      const { link, typed } = chosen;
      box.value = "";
      place();
      accept(link, { typed });
    } else {
      box.focus();
      if (!box.value.trim()) say(words("nothing-typed"));
    }
  });
}
