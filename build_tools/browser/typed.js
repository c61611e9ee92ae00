/** The box in which a reading is typed: says which range it falls in, and asks before it goes on. */
import { enhancePad } from "./pad.js";
import { rangeOf, readTyped, shownUnit } from "./reading.js";

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
  const carrying = [...node.querySelectorAll("a[data-asks]")].map((link) => [link, link.href]); // into calculators
  let chosen;

  function place() {
    chosen = undefined;
    const typed = box.value.trim() ? readTyped(box.value, unit) : {};
    if (typed.over || typed.value > Number(most)) {
      chosen = { link: over, typed: typed.over ? words("over-range") : `${typed.value} ${shownUnit(unit)}` };
    } else if (typed.value !== undefined) {
      chosen = { link: rangeOf(answers, typed.value), typed: `${typed.value} ${shownUnit(unit)}` };
    }
    if (chosen && !chosen.link) {
      typed.problem = "no-answer";
      chosen = undefined;
    }
    for (const [link, plain] of carrying) {
      link.href = typed.value === undefined ? plain : `${plain}&${link.dataset.asks}=${typed.value}`;
    }
    shown.hidden = !chosen;
    problem.textContent = typed.problem ? words(typed.problem, typed.values) : "";
    box.toggleAttribute("aria-invalid", Boolean(typed.problem));
    answers.concat(over ?? []).forEach((link) => link.toggleAttribute("data-match", link === chosen?.link));
    if (!chosen) return;
    value.textContent = chosen.typed;
    meaning.textContent = typed.value > Number(most)
      ? words("more-than-shown", { most: `${most} ${shownUnit(unit)}`, answer: over.dataset.words })
      : chosen.link.dataset.words;
    button.textContent = words("accept", { value: chosen.typed });
  }

  form.hidden = false;
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
      if (!box.value.trim()) problem.textContent = words("nothing-typed");
    }
  });
}
