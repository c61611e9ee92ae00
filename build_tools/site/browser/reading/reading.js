/**
 * A typed reading: what the person wrote, turned into a number in the unit the question asks for.
 * Nothing here touches the page.
 */
import { numberOf, typedFigure } from "./typed-figure.js";

/** Unit words and signs, each with the quantity it measures and its power of ten. */
const UNITS = new Map([
  ["A", ["A", 0]], ["mA", ["A", -3]], ["kA", ["A", 3]],
  ["V", ["V", 0]], ["mV", ["V", -3]], ["kV", ["V", 3]],
  ["ohm", ["ohm", 0]], ["mohm", ["ohm", -3]], ["kohm", ["ohm", 3]], ["Mohm", ["ohm", 6]],
  ["Hz", ["Hz", 0]],
]);

/** What meters show, and people write, for "more than I can show". */
const OVER = /^(o\.?l\.?|o[. ]?flow|over|over[- ]?range|overload|>.*|1 ?\.\s*_*)$/i;

/**
 * The unit as UNITS spells it, or undefined. Case is forgiven where it cannot mislead: M and m are told apart
 * for ohms only, since nobody clamps megamps.
 * @param {string} text
 */
export function unitNamed(text) {
  const plain = text
    .replace(/[\u03a9\u2126\u03c9]/g, "ohm")
    .replace(/^(milli|kilo|mega)?(amp|volt|ohm)(ere)?s?$/i, (_, scale = "", quantity) =>
      ({ milli: "m", kilo: "k", mega: "M" }[scale.toLowerCase()] ?? "") +
      ({ amp: "A", volt: "V", ohm: "ohm" }[quantity.toLowerCase()]));
  if (UNITS.has(plain)) return plain;
  const alike = [...UNITS.keys()].filter((name) => name.toLowerCase() === plain.toLowerCase());
  return alike.length === 1 ? alike[0] : undefined;
}

/** The unit as a page shows it. @param {string} unit */
export const shownUnit = (unit) => unit.replace("ohm", "\u03a9");

/**
 * @typedef {{value: number} | {over: true} | import("./typed-figure.js").Problem} Typed
 */

/**
 * Reads what was typed. The number comes back in `unit`.
 * @param {string} text as typed: "0.45", "0,45", "450 mA", "OL"
 * @param {string} unit unit of the question; a unit unknown here is taken to mean itself only
 * @returns {Typed}
 */
export function readTyped(text, unit) {
  const typed = text.trim();
  if (OVER.test(typed)) return { over: true };
  const figure = typedFigure(typed);
  if (figure.problem) return figure;
  if (figure.sign === "-") return { problem: "sign" };
  const written = figure.unit || unit;
  if (written === unit) return valueOf(figure, 0);
  const from = UNITS.get(unitNamed(written) ?? ""), to = UNITS.get(unitNamed(unit) ?? "");
  if (!from) return { problem: "unit", values: { typed: written, unit: shownUnit(unit) } };
  if (!to || from[0] !== to[0]) {
    return { problem: `other-${from[0]}`, values: { unit: shownUnit(unit) } };
  }
  return valueOf(figure, from[1] - to[1]);
}

/** A figure beyond all numbers is none. */
function valueOf(figure, power) {
  const value = numberOf(figure, power);
  return Number.isFinite(value) ? { value } : { problem: "no-number" };
}

/**
 * The answer a value belongs to: `from` is included, `to` is not.
 * @param {HTMLElement[]} answers links with data-from and data-to where they are bounded
 * @param {number} value
 */
export const rangeOf = (answers, value) =>
  answers.find(({ dataset: { from = "-Infinity", to = "Infinity" } }) => value >= Number(from) && value < Number(to));
