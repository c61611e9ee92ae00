/**
 * Answers carried from a call tree to a site tree, in the address after the #, as `carry=tingle:yes;lights:no`.
 * Only names and values that the tree itself lists are ever taken: free text cannot travel this way.
 */

const WORD = /^[a-z0-9][a-z0-9._-]{0,63}$/i;

/** @param {Record<string, string>} answers */
export const carryText = (answers) =>
  "carry=" + Object.entries(answers).map(([name, value]) => `${name}:${value}`).join(";");

/**
 * @param {string} hash the address's fragment, with or without #
 * @param {(name: string, value: string) => boolean} known whether this tree asks for it
 * @returns {Record<string, string> | undefined} undefined when the fragment carries nothing
 */
export function carriedBy(hash, known) {
  const match = /^#?carry=(.*)$/.exec(decoded(hash));
  if (!match) return undefined;
  const pairs = match[1].split(";").map((pair) => pair.split(":"));
  return Object.fromEntries(pairs.filter(([name, value = ""]) => WORD.test(name) && WORD.test(value) && known(name, value)));
}

/** A fragment someone mangled is still only text. */
export function decoded(hash) {
  try {
    return decodeURIComponent(hash);
  } catch {
    return hash;
  }
}
