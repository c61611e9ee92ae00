/**
 * What people say of dangers, heard in what somebody typed: with slips, in any order, whatever else is said. How a
 * phrase is written stands in build_tools/guide/phrases.py.
 *
 * @typedef {string[][]} Phrase every word of it, as all that it may be: `stuck`, `spark*`, `let_go`
 */

/** The words of a text, as phrases have them: in lower case, apostrophes gone. @param {string} text */
const wordsOf = (text) => text.toLowerCase().replace(/['\u2019\u02bc`]/g, "").match(/[\p{L}\p{N}]+/gu) ?? [];

/**
 * @param {Phrase[]} phrases @param {(word: string) => boolean} known whether a word is one that is meant as it stands
 * @returns {(said: string) => boolean} whether one of the phrases is heard in what was said
 */
export function hearing(phrases, known) {
  return (said) => {
    const words = wordsOf(said);
    const heard = new Map();
    const isHeard = (one) => {
      if (!heard.has(one)) heard.set(one, follows(words, one.split("_"), known));
      return heard.get(one);
    };
    return phrases.some((phrase) => phrase.every((ways) => ways.some(isHeard)));
  };
}

/** Whether these stand among the words one after the other, with at most one word between two of them. */
function follows(words, wanted, known, from = 0, last = words.length) {
  const [first, ...rest] = wanted;
  for (let at = from; at < last; at += 1) {
    if (fits(words[at], first, known) && (!rest.length || follows(words, rest, known, at + 1, Math.min(at + 3, words.length)))) {
      return true;
    }
  }
  return false;
}

/** @param {string} word that was typed @param {string} wanted `spark*`, or a word to its end */
function fits(word, wanted, known) {
  const begins = wanted.endsWith("*"), whole = begins ? wanted.slice(0, -1) : wanted;
  if (begins ? word.startsWith(whole) : word === whole) return true;
  if (known(word)) return false;
  if (!begins) return isSlipOf(word, whole);
  return [-1, 0, 1].some((more) => isSlipOf(word.slice(0, whole.length + more), whole));
}

/** One slip of typing: a letter too many, one left out, two changed over; in long words a wrong one. */
function isSlipOf(typed, word) {
  if (Math.max(typed.length, word.length) < 5 || typed[0] !== word[0] || typed === word) return typed === word;
  let start = 1, end = 0;
  while (start < Math.min(typed.length, word.length) && typed[start] === word[start]) start += 1;
  while (end < Math.min(typed.length, word.length) - start && typed.at(-1 - end) === word.at(-1 - end)) end += 1;
  const odd = typed.slice(start, typed.length - end), right = word.slice(start, word.length - end);
  if (odd.length + right.length === 1) return true;
  if (odd.length === 2 && odd === right[1] + right[0]) return true;
  return word.length > 6 && odd.length === 1 && right.length === 1;
}
