/**
 * One edition of the guide in the browser's cache: fetched whole, every file held against its sum, before any
 * page is answered from it.
 *
 * @typedef {{id: string, version: string, files: Record<string, [sum: string, bytes: number]>}} Edition
 *   files: paths from the site's root; sum: SHA-256 in hex
 */

const SUM = "x-lost-neutral-sum";
const MARK = "./.kept"; // no file's path; its body says since when the copy is whole
const LANES = 6;
const ABOUT_THE_WAY = ["content-encoding", "content-length", "transfer-encoding"]; // the body that is kept is unpacked

/** Names of caches begin with this, then comes the edition's id. @param {string} scope address of the site's root */
export const cachePrefix = (scope) => `lost-neutral:copy:${new URL(scope).pathname}:`;

/**
 * Fetch what is missing. What an earlier try brought is kept and not fetched again.
 * @param {string} scope
 * @param {Edition} edition
 * @param {(done: number, all: number) => void} tell
 * @throws {Error} when a file cannot be had or is not what the edition says, twice
 */
export async function keepWhole(scope, edition, tell) {
  const cache = await caches.open(cachePrefix(scope) + edition.id);
  const waiting = Object.entries(edition.files), all = waiting.length;
  const lane = async () => {
    for (let next = waiting.shift(); next; next = waiting.shift()) {
      const [path, [sum]] = next;
      if (!(await sound(cache, address(scope, path), sum))) await keepFile(cache, scope, path, sum);
      tell(all - waiting.length, all);
    }
  };
  await Promise.all(Array.from({ length: LANES }, lane));
  const { id, version } = edition;
  await cache.put(new URL(MARK, scope), Response.json({ id, version, fetched: Date.now() }));
}

/** @returns {Promise<{id: string, version: string, fetched: number} | undefined>} undefined unless it is whole */
export async function keptSince(scope, id) {
  const name = cachePrefix(scope) + id;
  const mark = (await caches.has(name)) && (await (await caches.open(name)).match(new URL(MARK, scope)));
  return mark ? mark.json() : undefined;
}

/**
 * A file as it was kept. One that is damaged is fetched anew if there is a network.
 * @param {string} path from the site's root
 * @returns {Promise<Response | undefined>} undefined when the edition has no such file
 * @throws {Error} when it is damaged and cannot be mended
 */
export async function fromCopy(scope, id, path) {
  const cache = await caches.open(cachePrefix(scope) + id);
  const kept = await cache.match(address(scope, path));
  const sum = kept?.headers.get(SUM);
  if (!sum) return undefined;
  const good = await sound(cache, address(scope, path), sum);
  if (good) return good;
  await keepFile(cache, scope, path, sum);
  return sound(cache, address(scope, path), sum);
}

async function keepFile(cache, scope, path, sum) {
  const body = (await fetched(address(scope, path), "no-cache", sum)) ?? (await fetched(address(scope, path), "reload", sum));
  if (!body) throw new Error(`${path} is not what this edition says it is`);
  body.headers.set(SUM, sum);
  await cache.put(address(scope, path), new Response(body.bytes, { headers: body.headers }));
}

/**
 * With the server's headers: a page from the copy lives under the policy that it was sent with.
 * @returns {Promise<{bytes: ArrayBuffer, headers: Headers} | undefined>} undefined when it is another file
 */
async function fetched(url, cache, sum) {
  const response = await fetch(url, { cache, credentials: "same-origin" });
  if (!response.ok) throw new Error(`${url.pathname}: ${response.status}`);
  const bytes = await response.arrayBuffer();
  const headers = new Headers(response.headers);
  for (const name of ABOUT_THE_WAY) headers.delete(name);
  return (await sumOf(bytes)) === sum ? { bytes, headers } : undefined;
}

/** The kept response, if its body still has this sum. */
async function sound(cache, url, sum) {
  try {
    const kept = await cache.match(url);
    if (kept?.headers.get(SUM) !== sum) return undefined;
    const bytes = await kept.arrayBuffer();
    return (await sumOf(bytes)) === sum ? new Response(bytes, { headers: kept.headers }) : undefined;
  } catch {
    return undefined; // the browser's own store is damaged
  }
}

async function sumOf(bytes) {
  const digest = await crypto.subtle.digest("SHA-256", bytes);
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

const address = (scope, path) => new URL(path.split("/").map(encodeURIComponent).join("/"), scope);
