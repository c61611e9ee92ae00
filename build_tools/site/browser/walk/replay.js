/**
 * Walks that the build has computed, shown again in the tree. They stand in a script of their own, which is
 * loaded only when an address asks for one (`#replay=ID`), since from a folder a page may not fetch.
 *
 * @typedef {{id: string, street: string, fault: string, home: string, hops: [string, number, string, string][]}} Replay
 *   hops: node, which of its answers, at which home, what was shown there
 */

import { decoded } from "../call/carry.js";

const ASKED = /^#replay=(.+)$/;

/** The id of the walk that an address asks for. @param {string} hash */
export const replayAsked = (hash) => ASKED.exec(decoded(hash))?.[1];

/** @param {string} src the script @param {string} id @returns {Promise<Replay | undefined>} */
export function loadReplay(src, id) {
  return new Promise((done) => {
    const script = document.createElement("script");
    globalThis.lostNeutralWalks = (walks) => done(Object.hasOwn(walks, id) ? { id, ...walks[id] } : undefined);
    script.onerror = () => done(undefined);
    script.src = src;
    document.head.append(script);
  });
}

/** What the replay shows at its step `at`, in words. @param {Replay} replay */
export function hopWords(replay, at, taken, words) {
  const hop = replay.hops[at];
  if (!hop) return words("replay-ends");
  const [, , home, shown] = hop;
  return words(shown ? "replay-shown" : "replay-done", { home, shown, taken: taken.dataset.words });
}
