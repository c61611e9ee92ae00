/**
 * A calculator in a page. The page already shows the build's figures for the values in its form; from the first
 * touch on, the same Python answers here. Words and figures are Python's; this only puts them in their places.
 */
import { drawAnswer } from "./answer.js";
import { pythonClient } from "./python-client.js";

const PAUSE_MS = 150; // after the last key, before a question is asked

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
  let timer = 0;
  let touched = false;
  let answered = false;

  const show = (state) => {
    root.dataset.state = state;
    part("status").textContent = STATES[state];
  };

  async function calculate() {
    show(answered ? "waiting" : "starting");
    try {
      const reply = await python.ask(root.dataset.calculator, JSON.stringify(valuesOf(form)), data);
      if (reply !== undefined) take(JSON.parse(reply));
    } catch {
      show("failed");
    }
  }

  function take({ ok, problems = {} }) {
    answered = true;
    for (const field of root.querySelectorAll("[data-field]")) tell(field, problems[field.dataset.field] ?? "");
    if (ok) drawAnswer(part, ok);
    show(ok ? "here" : "stale");
  }

  /** The first touch starts Python, whatever is done next. */
  function touch() {
    if (touched) return;
    touched = true;
    calculate();
  }

  function calculateSoon() {
    touched = true;
    clearTimeout(timer);
    timer = setTimeout(calculate, PAUSE_MS);
  }

  form.reset(); // some browsers keep what was typed before a reload, and the figures are not for that
  form.querySelector("fieldset").disabled = false;
  form.addEventListener("pointerdown", touch);
  form.addEventListener("focusin", touch);
  form.addEventListener("input", calculateSoon);
  form.addEventListener("reset", calculateSoon);
  form.addEventListener("submit", (event) => event.preventDefault());
  show("build");
}

/** What the form holds, all as text; a tick is "yes" or "no". @param {HTMLFormElement} form */
const valuesOf = (form) =>
  Object.fromEntries([...form.querySelectorAll("input, select")].map((control) =>
    [control.name, control.type === "checkbox" ? (control.checked ? "yes" : "no") : control.value]));

/** Say what is wrong with a field, or with "" that nothing is. */
function tell(field, problem) {
  const words = field.querySelector(".ln-problem");
  if (words.textContent !== problem) words.textContent = problem;
  field.querySelector("input, select").setAttribute("aria-invalid", String(problem !== ""));
}

document.querySelectorAll("[data-calculator]").forEach(enhance);
