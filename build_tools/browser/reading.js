/**
 * A typed reading: what the person wrote, turned into a number in the unit the question asks for.
 * Nothing here touches the page.
 */

/** Unit words and signs, each with the quantity it measures and its power of ten. */
const UNITS = new Map([
  ["A", ["A", 0]], ["mA", ["A", -3]], ["kA", ["A", 3]],
  ["V", ["V", 0]], ["mV", ["V", -3]], ["kV", ["V", 3]],
  ["ohm", ["ohm", 0]], ["mohm", ["ohm", -3]], ["kohm", ["ohm", 3]], ["Mohm", ["ohm", 6]],
  ["Hz", ["Hz", 0]],
]);

const QUANTITIES = { A: "amps", V: "volts", ohm: "ohms", Hz: "hertz" };

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
 * @typedef {{value: number} | {over: true} | {problem: string}} Typed
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
  const match = /^([+\-\u2212]?)([\d.,]*)\s*([^\d.,\s][^\d.,]*)?$/.exec(typed);
  const digits = match?.[2] ?? "";
  if (!match || !/\d/.test(digits)) {
    return { problem: `That does not read as a number. Type the figures on the display, such as 0.45 or 0,45.` };
  }
  if (!/^\d*[.,]?\d*$/.test(digits)) {
    return { problem: `${digits} has more than one point or comma. Type it with a single point or comma.` };
  }
  if (match[1] && match[1] !== "+") {
    return { problem: "Readings here have a size but no sign. If the display shows a minus, leave it off." };
  }
  const power = powerBetween((match[3] ?? unit).trim(), unit);
  if (typeof power === "string") return { problem: power };
  return { value: Number(`${digits.replace(",", ".")}e${power}`) };
}

/** Power of ten that takes `typed` to `wanted`, or a sentence that says why there is none. */
function powerBetween(typed, wanted) {
  if (typed === wanted) return 0;
  const from = UNITS.get(unitNamed(typed) ?? ""), to = UNITS.get(unitNamed(wanted) ?? "");
  if (!from) return `The unit \u201c${typed}\u201d is not known here. This reading is in ${shownUnit(wanted)}.`;
  if (!to || from[0] !== to[0]) {
    const asked = to ? `${QUANTITIES[to[0]]} (${shownUnit(wanted)})` : shownUnit(wanted);
    return `That is in ${QUANTITIES[from[0]]}; this reading is in ${asked}. Check the range switch and type it again.`;
  }
  return from[1] - to[1];
}

/**
 * The answer a value belongs to: `from` is included, `to` is not.
 * @param {HTMLElement[]} answers links with data-from and data-to where they are bounded
 * @param {number} value
 */
export const rangeOf = (answers, value) =>
  answers.find(({ dataset: { from = "-Infinity", to = "Infinity" } }) => value >= Number(from) && value < Number(to));
