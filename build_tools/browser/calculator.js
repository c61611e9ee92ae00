/**
 * A calculator in a page. The page already shows the build's figures for the values in its form; from the first
 * touch on, the same Python answers here. Words and figures are Python's; this only puts them in their places.
 */
import { drawAnswer } from "./answer.js";
import { pythonClient } from "./python-client.js";
import { editStreets } from "./street-editor.js";
import { watchStories } from "./story.js";

const PATIENCE_MS = 400; // after the last key, before a value that cannot be used is worth a word
const SLOW_MS = 300; // before a wait is worth a word

const PYTHON = new URL("python/", document.currentScript.src).href;

const STATES = {
  build: "Figures from the build",
  starting: "Starting Python on this device. The figures below are still for the values the page came with.",
  here: "Calculated on this device",
  waiting: "Calculating on this device",
  stale: "One of the values cannot be used. The figures below are for the values before it.",
  failed:
    "This device could not calculate that. The figures below are for earlier values. " +
    "Change a value to try again; if it keeps failing, another browser may do better.",
};

/** @param {HTMLElement} root element with data-calculator */
function enhance(root) {
  const part = (name) => root.querySelector(`[data-part="${name}"]`);
  const form = root.querySelector("form");
  const data = part("data").textContent;
  const python = pythonClient(PYTHON);
  const firstOptions = new Map([...form.querySelectorAll("select")].map((select) => [select, [...select.options]]));
  let timer = 0;
  let state = "build";

  function show(now) {
    state = now;
    root.dataset.state = now;
    part("status").textContent = STATES[now];
  }

  async function calculate() {
    clearTimeout(timer);
    if (state === "build") show("starting");
    const slow = setTimeout(() => state !== "starting" && show("waiting"), SLOW_MS);
    try {
      const reply = await python.ask(root.dataset.calculator, JSON.stringify(valuesOf(form)), data);
      if (reply !== undefined) take(JSON.parse(reply));
    } catch (error) {
      console.warn(error);
      show("failed");
    } finally {
      clearTimeout(slow);
    }
  }

  /** @param {{ok?: import("./answer.js").Answer, problems?: Record<string, string>, options?: Options}} reply */
  function take({ ok, problems = {}, options = {} }) {
    if (refill(form, options)) return calculate();
    if (!ok) {
      timer = setTimeout(tellAll, PATIENCE_MS, problems, "stale");
      return;
    }
    drawAnswer(part, ok);
    tellAll({}, "here");
  }

  function tellAll(problems, now) {
    for (const field of form.querySelectorAll("[data-field]")) tell(field, problems[field.dataset.field] ?? "");
    show(now);
  }

  /** The first touch starts Python, whatever is done next. */
  const touch = () => state === "build" && calculate();

  form.reset(); // some browsers keep what was typed before a reload, and the figures are not for that
  form.querySelector("fieldset").disabled = false;
  part("without-script").remove();
  form.addEventListener("pointerdown", touch);
  form.addEventListener("focusin", touch);
  form.addEventListener("input", calculate);
  form.addEventListener("reset", () => {
    firstOptions.forEach((options, select) => select.replaceChildren(...options));
    setTimeout(calculate); // once the form holds the first values again
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  watchStories(part("drawing"));
  editStreets(form, JSON.parse(data));
  show("build");
  const open = () => fillFrom(form, location.hash.slice(1)) && calculate();
  addEventListener("hashchange", open);
  open();
}

/** What the form holds, all as text; a tick is "yes" or "no". @param {HTMLFormElement} form */
const valuesOf = (form) =>
  Object.fromEntries([...form.querySelectorAll(":is(input, select)[name]")].map((control) =>
    [control.name, control.type === "checkbox" ? (control.checked ? "yes" : "no") : control.value]));

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

/**
 * Put what an address holds after its # into the fields of those names: a street of the guide, or a whole street
 * of its own. Python says which of it can be used.
 * @returns {boolean} whether there was anything for this form
 */
function fillFrom(form, fragment) {
  let found = false;
  for (const [name, value] of new URLSearchParams(fragment)) {
    const control = form.querySelector(`fieldset [name="${CSS.escape(name)}"]`);
    if (!control) continue;
    found = true;
    if (control.type === "checkbox") {
      control.checked = value === "yes";
      continue;
    }
    if (control.localName === "select" && ![...control.options].some((option) => option.value === value)) {
      control.add(new Option(value.length > 40 ? "The street in this link" : value, value));
    }
    control.value = value;
  }
  return found;
}

/** Say what is wrong with a field, or with "" that nothing is. */
function tell(field, problem) {
  const words = field.querySelector(".ln-problem");
  if (words.textContent !== problem) words.textContent = problem;
  field.querySelector("input, select").setAttribute("aria-invalid", String(problem !== ""));
}

document.querySelectorAll("[data-calculator]").forEach(enhance);
