/**
 * Answers the guide's pages from the copy on the device. The build puts the edition's list of files before this
 * script, so that any change of any file makes a new worker with a copy of its own.
 *
 * A page keeps to the edition that it was opened with, and while a job is open every page does: `pins` says
 * which edition a page has, `held` which one the job began with.
 */
import { cachePrefix, fromCopy, keepWhole, keptSince } from "./kept-copy.js";

/** @type {import("./kept-copy.js").Edition} */
const edition = self.lostNeutralEdition;
const scope = self.registration.scope;
const MISSING = "missing.html";
const SIGNS = `lost-neutral:signs:${new URL(scope).pathname}`;

/** @type {Promise<{held?: string, pins: Record<string, string>}> | undefined} */
let signs;

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(activate()));
self.addEventListener("fetch", (event) => {
  const path = pathOf(event.request);
  if (path !== undefined) event.respondWith(answer(event, path));
});
self.addEventListener("message", (event) => event.waitUntil(hear(event)));

async function install() {
  let told = 0;
  try {
    await keepWhole(scope, edition, (done, all) => {
      if (done - told >= 8) tellPages({ fetching: (told = done), of: all, version: edition.version });
    });
  } catch (error) {
    told = Infinity; // what is still on its way is not worth a word
    await tellPages({ failed: error.name === "QuotaExceededError" ? "full" : "broken", detail: error.message });
    throw error;
  }
}

/** The first copy takes over the pages that are open; later ones wait until they are let. */
async function activate() {
  if ((await copies()).length === 1) await self.clients.claim();
  await tidy();
  await tellPages({ kept: await keptSince(scope, edition.id) });
}

/** Lets go of editions that no open page has, and no job. */
async function tidy() {
  const { held, pins } = await readSigns();
  const open = new Set((await self.clients.matchAll({ includeUncontrolled: true })).map((client) => client.id));
  const still = Object.fromEntries(Object.entries(pins).filter(([client]) => open.has(client)));
  const needed = new Set([edition.id, held, ...Object.values(still)]);
  const spare = (await copies()).filter((id) => !needed.has(id));
  await Promise.all(spare.map((id) => caches.delete(cachePrefix(scope) + id)));
  await writeSigns({ pins: still });
}

async function copies() {
  const names = await caches.keys(), prefix = cachePrefix(scope);
  return names.filter((name) => name.startsWith(prefix)).map((name) => name.slice(prefix.length));
}

/** The path from the site's root of what is asked for; undefined for what is none of the guide's business. */
function pathOf({ method, url }) {
  if (method !== "GET" || !url.startsWith(scope)) return undefined;
  const path = url.slice(scope.length).replace(/[?#].*$/, "");
  try {
    return decodeURIComponent(path === "" || path.endsWith("/") ? `${path}index.html` : path);
  } catch {
    return undefined;
  }
}

/** What belongs to the edition comes from its copy or not at all: the network may have another edition. */
async function answer(event, path) {
  try {
    return (await fromCopy(scope, await editionOf(event), path)) ?? (await fetch(event.request));
  } catch (error) {
    const isPage = event.request.mode === "navigate" && path !== MISSING && edition.files[MISSING];
    if (isPage) return Response.redirect(new URL(MISSING, scope));
    throw error;
  }
}

async function editionOf({ request, clientId, resultingClientId }) {
  const { held, pins } = await readSigns();
  if (request.mode !== "navigate") return pins[clientId] ?? held ?? edition.id;
  const id = held && (await keptSince(scope, held)) ? held : edition.id;
  if (resultingClientId) await writeSigns({ pins: { ...pins, [resultingClientId]: id } });
  return id;
}

/** What pages say: which edition they are, that a job is open, that the newest may be used. */
async function hear({ data, ports: [port], source }) {
  if (data.hold !== undefined) await writeSigns({ held: data.hold || undefined });
  if (data.page) {
    const { pins } = await readSigns();
    await writeSigns({ pins: { [source.id]: data.page, ...pins } });
    await tidy();
  }
  if (data.take) await self.skipWaiting();
  port?.postMessage({ kept: await keptSince(scope, edition.id), version: edition.version });
}

function readSigns() {
  signs ??= caches.open(SIGNS).then((cache) => cache.match(scope)).then((kept) => kept?.json()).catch(() => undefined)
    .then((kept) => ({ pins: {}, ...kept }));
  return signs;
}

async function writeSigns(change) {
  const now = { ...(await readSigns()), ...change };
  signs = Promise.resolve(now);
  await (await caches.open(SIGNS)).put(scope, Response.json(now));
}

async function tellPages(words) {
  for (const page of await self.clients.matchAll({ includeUncontrolled: true, type: "window" })) page.postMessage(words);
}
