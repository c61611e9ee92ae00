/**
 * A calculator in a page. The page already shows the build's figures for the values in its form; from the first
 * touch on, the same Python answers here. The words of answers are Python's; this only puts them in their places.
 */
import { drawAnswer } from "./answer.js";
import { offerExports } from "./export.js";
import { cameFrom, readAddress, valuesOf, writeAddress } from "./filled.js";
import { keepInSight } from "./in-sight.js";
import { pythonClient } from "../python/python-client.js";
import { editStreets } from "./street-editor.js";
import { watchStories } from "../story/story.js";
import { numberOf, typedFigure } from "../reading/typed-figure.js";
import { wordsIn } from "../page/words.js";

const PATIENCE_MS = 400; // after the last key, before a value that cannot be used is worth a word
const SLOW_MS = 300; // before a wait is worth a word
const ADDRESS_MS = 250; // browsers refuse an address that changes with every step of a slider

const PYTHON = new URL("python/", document.currentScript.src).href;

/** @param {HTMLElement} root element with data-calculator */
function enhance(root) {
  const part = (name) => root.querySelector(`[data-part="${name}"]`);
  const words = wordsIn(root);
  const form = root.querySelector("form");
  const data = part("data").textContent;
  const python = pythonClient(PYTHON);
  let first;
  let firstOptions;
  let timer = 0;
  let addressTimer = 0;
  let state = "build";

  function show(now) {
    state = now;
    root.dataset.state = now;
    part("status").textContent = words(`state-${now}`);
  }

  async function calculate() {
    clearTimeout(timer);
    clearTimeout(addressTimer);
    if (state === "build") show("starting");
    const slow = setTimeout(() => state !== "starting" && show("waiting"), SLOW_MS);
    try {
      const reply = await python.ask(root.dataset.calculator, JSON.stringify(valuesOf(form)), data);
      if (reply !== undefined) await take(JSON.parse(reply));
    } catch (error) {
      console.warn(error);
      show("failed");
    } finally {
      clearTimeout(slow);
    }
  }

  /** @param {{ok?: import("./answer.js").Answer, problems?: Record<string, string>, options?: Options}} reply */
  async function take({ ok, problems = {}, options = {} }) {
    if (refill(form, options)) return calculate();
    if (!ok) {
      timer = setTimeout(tellAll, PATIENCE_MS, problems, "stale");
      return;
    }
    if (!(await drawAnswer(part, ok))) return;
    tellAll({}, "here");
    addressTimer = setTimeout(() => {
      writeAddress(form, first);
      part("address").textContent = location.href;
    }, ADDRESS_MS);
  }

  function tellAll(problems, now) {
    for (const field of form.querySelectorAll("[data-field]")) tell(field, problems[field.dataset.field] ?? "");
    show(now);
  }

  /** The first touch starts Python, whatever is done next. */
  const touch = () => state === "build" && calculate();

  /** The values of a link, on top of those the page came with; the same for an address that changes later. */
  function open() {
    const back = cameFrom();
    part("back").replaceChildren(...(back ? [linked(new URL(`../${back}`, location.href), words("back"))] : []));
    firstOptions.forEach((options, select) => select.replaceChildren(...options));
    for (const [name, value] of Object.entries(first)) {
      const control = form.elements[name];
      if (control.type === "checkbox") control.checked = value === "yes";
      else control.value = value;
    }
    const { found, unknown } = readAddress(form, words);
    part("notice").textContent = unknown.length
      ? words("other-edition", { names: unknown.join(", ").slice(0, 80) })
      : "";
    slide(form);
    if (found || state !== "build") calculate();
  }

  form.reset(); // some browsers keep what was typed before a reload, and the figures are not for that
  first = valuesOf(form);
  firstOptions = new Map([...form.querySelectorAll("select")].map((select) => [select, [...select.options]]));
  form.querySelector("fieldset").disabled = false;
  part("without-script").remove();
  form.addEventListener("pointerdown", touch);
  form.addEventListener("focusin", touch);
  form.addEventListener("input", ({ target }) => {
    if (target.dataset.slides) {
      form.elements[target.dataset.slides].value = slid(target);
      target.setAttribute("aria-valuetext", slid(target));
    } else slide(form);
    part("notice").textContent = "";
    calculate();
  });
  form.addEventListener("reset", () => {
    firstOptions.forEach((options, select) => select.replaceChildren(...options));
    setTimeout(() => (slide(form), calculate())); // once the form holds the first values again
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  watchStories(part("drawing"), words);
  editStreets(form, JSON.parse(data), words);
  offerExports(root, part, words);
  keepInSight(root);
  part("address").textContent = location.href;
  show("build");
  addEventListener("hashchange", open);
  open();
}

/** Sliders stand where their boxes say, as near as they can. @param {HTMLFormElement} form */
function slide(form) {
  for (const slider of form.querySelectorAll("[data-slides]")) {
    const typed = numberOf(typedFigure(form.elements[slider.dataset.slides].value));
    if (Number.isFinite(typed)) slider.value = String("decades" in slider.dataset ? Math.log10(typed) : typed);
    slider.setAttribute("aria-valuetext", form.elements[slider.dataset.slides].value);
  }
}

/** The value that a slider stands for: one over decades to two figures. @param {HTMLInputElement} slider */
function slid(slider) {
  return "decades" in slider.dataset ? String(Number((10 ** Number(slider.value)).toPrecision(2))) : slider.value;
}

function linked(href, words) {
  return Object.assign(document.createElement("a"), { href, textContent: words });
}

/**
 * Give choices the options that another choice has changed: the homes of a street.
 * @typedef {Record<string, [value: string, words: string][]>} Options
 * @returns {boolean} whether one of them had to be chosen anew
 */
function refill(form, options) {
  const before = JSON.stringify(valuesOf(form));
  for (const [name, offered] of Object.entries(options)) {
    const select = form.elements[name];
    const listed = [...select.options].map(({ value, text }) => [value, text]);
    if (JSON.stringify(listed) === JSON.stringify(offered)) continue;
    const chosen = select.value;
    select.replaceChildren(...offered.map(([value, words]) => new Option(words, value, false, value === chosen)));
  }
  return before !== JSON.stringify(valuesOf(form));
}

/** Say what is wrong with a field, or with "" that nothing is. */
function tell(field, problem) {
  const words = field.querySelector(".ln-problem");
  if (words.textContent !== problem) words.textContent = problem;
  field.querySelector(":is(input, select)[name]").setAttribute("aria-invalid", String(problem !== ""));
}

document.querySelectorAll("[data-calculator]").forEach(enhance);
