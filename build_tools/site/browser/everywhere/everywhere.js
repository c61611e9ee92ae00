/**
 * On every page: what stands on this device, since when, and whether there is something newer. Its words stand in
 * the page; without this script the page says its own edition and nothing is missed.
 */
import { isCall, openJob } from "../job/job.js";
import { painted } from "../page/painted.js";
import { enhanceThemeButtons } from "./theme-buttons.js";
import { wordsIn } from "../page/words.js";

const ROOT = new URL("..", document.currentScript.src).href;
const HOUR_MS = 3_600_000;

/** @type {{id: string, version: string, reviewed: string}} what build.js says of the pages' own edition */
let build;

globalThis.lostNeutralBuild = (said) => {
  build = said;
  document.documentElement.dataset.edition = build.id; // for who keeps a job
  document.querySelectorAll("[data-part=device]").forEach((bar) => start(bar));
};

/** The way back to a job from wherever its tree was left. */
function showOpenJob() {
  const job = openJob(), box = document.querySelector("[data-part=open-job-link]");
  box.hidden = !job?.answers?.length || isCall(job) || // an open call is gone on with from the list of jobs alone
    Boolean(document.querySelector(`[data-tree="${CSS.escape(job.tree)}"]`));
  if (box.hidden) return;
  const link = box.querySelector("a");
  link.href = `${ROOT}${job.page}#job=${job.id}`;
  link.textContent = wordsIn(box)("open-job", { title: job.title, count: job.answers.length });
}
/** Past the theme's links, to what the page is about. The address stays: a tree and a calculator read it. */
document.querySelector(".ln-skip")?.addEventListener("click", (event) => {
  event.preventDefault();
  const to = document.querySelector("[data-enhanced] [data-node]:not([hidden]) h2") ?? document.querySelector(".ln h1");
  to.tabIndex = -1;
  to.focus();
});

enhanceThemeButtons();

/** From every page that has no box to find things in, the same key leads to one. */
addEventListener("keydown", (event) => {
  const { key, ctrlKey, metaKey, altKey, target } = event;
  if (key !== "/" || ctrlKey || metaKey || altKey || target.closest("input, textarea, select, dialog")) return;
  if (document.querySelector("[data-find]")) return;
  event.preventDefault();
  const desk = document.querySelector("[data-audience=call] .ln-audience a"); // in a call, the next caller's words
  location.href = `${desk?.href ?? `${ROOT}find.html`}#find`;
});

showOpenJob();
addEventListener("pageshow", showOpenJob);

/** What passes its review date after the build says so on the device, from the next day on. */
function showOverdue() {
  const today = new Date().toISOString().slice(0, 10);
  for (const note of document.querySelectorAll("[data-shown-after]")) note.hidden &&= note.dataset.shownAfter >= today;
}
showOverdue();
addEventListener("pageshow", showOverdue);

/** @param {HTMLElement} bar */
async function start(bar) {
  const say = (name, values = {}) => showWords(bar, name, values);
  if (Date.now() < Date.parse(build.reviewed)) showClock(bar);
  if (location.protocol === "file:") return say("folder");
  if (!globalThis.isSecureContext || !navigator.serviceWorker) return say("unkept");
  const workers = navigator.serviceWorker;
  workers.addEventListener("message", ({ data }) => hear(say, data));
  workers.addEventListener("controllerchange", () => hadOne && !openJob() && location.reload());
  const hadOne = Boolean(workers.controller);
  try {
    const registration = await workers.register(`${ROOT}service-worker.js`, { scope: ROOT, updateViaCache: "none" });
    await watch(bar, say, registration);
  } catch (error) {
    console.warn(error);
    say(navigator.onLine ? "unkept" : "offline");
  }
}

/** @param {ServiceWorkerRegistration} registration */
async function watch(bar, say, registration) {
  const { active } = registration;
  tellJob(registration);
  addEventListener("ln-job", () => painted().then(() => tellJob(registration)));
  if (active) hear(say, await asked(active, { page: build.id }));
  const offer = () => registration.waiting && registration.active && offerNewer(bar, say, registration.waiting);
  registration.addEventListener("updatefound", () => {
    registration.installing?.addEventListener("statechange", ({ target }) => target.state === "installed" && offer());
  });
  offer();
  setInterval(() => registration.update().catch(() => undefined), HOUR_MS);
}

/** A job keeps the edition that it was begun with. */
function tellJob(registration) {
  registration.active?.postMessage({ hold: openJob()?.build ?? "" });
}

async function offerNewer(bar, say, waiting) {
  const { version } = await asked(waiting, {});
  say("newer", { version });
  const button = bar.querySelector("button");
  button.hidden = false;
  button.onclick = () => (openJob() ? say("job-first", { version }) : waiting.postMessage({ take: true }));
}

function hear(say, { kept, fetching, of, failed, version }) {
  if (kept) {
    say(kept.id === build.id ? "kept" : "kept-other", { version: kept.version, day: dayOf(kept.fetched) });
    askToStay(say);
  } else if (failed) say(failed === "full" ? "full" : "broken");
  else if (fetching) say("fetching", { done: fetching, all: of, version });
}

/** Some browsers throw copies away when room runs short, unless they are asked not to. */
async function askToStay(say) {
  const stays = (await navigator.storage?.persisted?.()) || (await navigator.storage?.persist?.());
  if (stays === false) say("may-go", {}, true);
}

/** @returns {Promise<{kept?: {id: string, version: string, fetched: number}, version: string}>} */
function asked(worker, question) {
  return new Promise((resolve) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = ({ data }) => resolve(data);
    worker.postMessage(question, [port2]);
  });
}

/** Shows the words called `name` with their blanks filled in. */
function showWords(bar, name, values) {
  const place = bar.querySelector(name === "may-go" ? "[data-more]" : "[data-now]");
  place.textContent = wordsIn(bar)(name, values);
  if (name !== "may-go") bar.dataset.state = name;
}

/** A clock that stands before the guide's own day cannot tell what is out of date. */
function showClock(bar) {
  bar.querySelector("[data-clock]").hidden = false;
}

function dayOf(moment) {
  return moment < Date.parse(build.reviewed) ? "?" : new Date(moment).toLocaleDateString(document.documentElement.lang);
}
