/**
 * Which open window does a call. A tab that is duplicated gets the history of the first one with it, answers and all;
 * a tab that is reloaded, gone back to or restored gets its own. What tells them apart is whether a window that does
 * the call still lives. Locks tell at once; where a server without TLS takes them away, the windows ask one another.
 */
const NAME = "lost-neutral:call:";
const WAIT_MS = 300; // a window that lives answers in a few

let held = "", letGo = () => undefined;

const others = globalThis.BroadcastChannel && !navigator.locks ? new BroadcastChannel(NAME) : undefined;
others?.addEventListener("message", ({ data }) => data.asked && data.asked === held && others.postMessage({ here: held }));

/** This window does the call with that id from now on, and no other call. @param {string} [id] */
export function holdCall(id = "") {
  if (id === held) return;
  letGo();
  held = id;
  if (!id) return;
  const waiting = new AbortController();
  const done = new Promise((resolve) => (letGo = () => (waiting.abort(), resolve())));
  navigator.locks?.request(NAME + id, { signal: waiting.signal }, () => done).catch(() => undefined);
}

/** @param {string} id @returns {Promise<boolean>} whether another window does the call with that id */
export async function isElsewhere(id) {
  if (id === held) return false;
  if (!others) {
    const locks = await navigator.locks?.query().catch(() => undefined);
    return Boolean(locks?.held.some(({ name }) => name === NAME + id));
  }
  return new Promise((done) => {
    const heard = ({ data }) => data.here === id && done(true);
    others.addEventListener("message", heard);
    others.postMessage({ asked: id });
    setTimeout(() => (others.removeEventListener("message", heard), done(false)), WAIT_MS);
  });
}

let before = "";
addEventListener("pagehide", () => ((before = held), holdCall()));
addEventListener("pageshow", ({ persisted }) => persisted && holdCall(before));
