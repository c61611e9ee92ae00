/** A figure as people type it, read as calc/typed_figure.py reads it: tests/typed_figures.yaml holds both to one table. */

const TYPED = /^([+\-\u2212]?)([0-9.,](?:[0-9.,\s]*[0-9.,])?)(?:[eE]([+\-\u2212]?[0-9]+))?\s*([^\p{Nd}.,\s]\P{Nd}*)?$/u;

/**
 * @typedef {{digits: string, power: number, sign: string, unit: string}} Figure
 *   digits: with a point, without sign; power: of ten; unit: as typed, "" for none
 * @typedef {{problem: string, values?: Record<string, string>}} Problem
 *   problem: the name of the words that say it, and what their blanks hold
 */

/** @param {string} text as typed @returns {Figure | Problem} */
export function typedFigure(text) {
  const [, sign, body = "", exponent = "0", unit = ""] = TYPED.exec(text.trim()) ?? [];
  if (!/[0-9]/.test(body)) return { problem: "no-number" };
  if (/\s/.test(body)) return { problem: "spaces", values: { digits: body } };
  if (/[.,].*[.,]/.test(body)) return { problem: "points", values: { digits: body } };
  const decimal = body.replace(",", ".");
  if (/,[0-9]{3}$/.test(body)) {
    return { problem: "thousands", values: { digits: body, decimal, whole: body.replace(",", "") } };
  }
  const minus = (written) => written.replace("\u2212", "-");
  return { digits: decimal, power: Number(minus(exponent)), sign: minus(sign), unit: unit.trim() };
}

/** @param {Figure} figure @param {number} [power] of ten besides, for another unit */
export const numberOf = ({ digits, power, sign }, more = 0) => Number(`${sign}${digits}e${power + more}`);
