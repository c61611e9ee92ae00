/**
 * Walks a tree one node at a time. The page already holds every node with links between them; this hides all
 * but the one reached, and adds keys, a typed reading, the trail, the job and its record.
 */
import { carriedBy, carryText, decoded } from "./carry.js";
import { offerDanger } from "./danger.js";
import { enhanceHandOn } from "./hand-on.js";
import { openJob } from "./job.js";
import { jobOfWalk } from "./job-of-walk.js";
import { hopWords, loadReplay, replayAsked } from "./replay.js";
import { enhanceRecord, outcomeOf } from "./record.js";
import { enhanceTerms } from "./terms.js";
import { givenWords, hereOf, soundPlace, stepWords } from "./trail.js";
import { enhanceReading } from "./typed.js";
import { wordsIn } from "./words.js";

const MOST_ENTRIES = 40; // browsers forget entries of their history beyond about 50

/** The tree as the page states it. @param {HTMLElement} root the element with data-walk */
export function walkOf(root) {
  const nodes = new Map([...root.querySelectorAll("[data-node]")].map((node) => [node.dataset.node, node]));
  const exits = new Map([...nodes].map(([id, node]) => [id, [...node.querySelectorAll("a[data-go]")]]));
  return {
    nodes,
    start: root.dataset.start,
    exits: (id) => exits.get(id) ?? [],
    heading: (id) => nodes.get(id).querySelector("h2"),
  };
}

/** Whether this tree has a question that remembers `name` with `value` among its answers. */
const asksFor = (walk) => (name, value) =>
  [...walk.nodes].some(([id, node]) =>
    node.dataset.remember === name && walk.exits(id).some((exit) => exit.dataset.is === value));

/** What was answered to the questions this tree remembers. */
function remembered(walk, trail) {
  const pairs = trail.map(({ at, exit }) => [walk.nodes.get(at).dataset.remember, walk.exits(at)[exit].dataset.is]);
  return Object.fromEntries(pairs.filter(([name, value]) => name && value));
}

function startWalk(root) {
  const walk = walkOf(root);
  const page = root.closest("[data-tree]");
  const part = (name) => page.querySelector(`[data-part="${name}"]`);
  const words = wordsIn(page);
  const job = jobOfWalk(page, walk, showKept);
  /** @type {import("./trail.js").Place} */
  let now = { trail: [], carry: {} };

  const here = () => hereOf(walk, now);

  /** The answer that a replay takes next. */
  const taken = () => walk.exits(here())[now.replay.hops[now.trail.length]?.[1]];

  /** @param {HTMLAnchorElement} link @param {{typed?: string, said?: true}} [how] */
  function answer(link, how = {}) {
    if (now.replay && link !== taken()) return;
    const step = { at: here(), exit: walk.exits(here()).indexOf(link), when: Date.now(), ...how };
    go({ ...now, trail: [...now.trail, step] });
    part("status").textContent = words("answered", { given: given(step) });
  }

  /** Each answer makes one history entry, so going back is the browser's own back. */
  function go(next) {
    now = next;
    keepJob();
    history.pushState({ ...now, job: job.id }, "", now.replay ? `#replay=${now.replay.id}` : `#${here()}`);
    show();
    arrive();
  }

  /**
   * @param {number} length how many answers are to be left; those before `resumed` are in no history entry
   */
  function backTo(length) {
    const left = Math.max(length, 0), steps = now.trail.length - left;
    if (steps > MOST_ENTRIES || left < (now.resumed ?? 0)) {
      go({ ...now, trail: now.trail.slice(0, left), resumed: Math.min(left, now.resumed ?? 0) });
    } else if (steps) history.go(-steps);
  }

  const back = () => now.trail.length && backTo(now.trail.length - 1);

  /** What was answered stays a job of its own. */
  function restart() {
    job.leave();
    part("resumed").hidden = true;
    if (now.from || now.resumed) go({ trail: [], carry: now.carry });
    else backTo(0);
  }

  function keepJob() {
    carryOn(here());
    job.at(now, outcomeOf(walk, here()));
  }

  const given = (step) => stepWords(walk, step, ` ${words("as-said")}`).given;

  /** What became of the job when it was to be kept. @param {"kept" | "full" | "denied" | "elsewhere"} state */
  function showKept(state) {
    if (state === "kept" && part("not-kept").dataset.state === "elsewhere") return;
    part("not-kept").dataset.state = state;
    part("not-kept").hidden = state === "kept";
    if (state !== "kept") part("not-kept").querySelector("span").textContent = words(`job-${state}`);
    part("show-theirs").hidden = state !== "elsewhere";
  }

  /** Puts the person at the heading of the node reached. */
  function arrive() {
    walk.heading(here()).focus({ preventScroll: true });
    part(now.replay ? "replay" : "walk-top").scrollIntoView({ block: "start" });
  }

  function show() {
    const at = here();
    for (const [id, node] of walk.nodes) node.hidden = id !== at;
    page.toggleAttribute("data-begun", Boolean(now.trail.length || now.from || now.replay));
    part("by-link").hidden = !now.from;
    part("back").disabled = !now.trail.length;
    part("again").disabled = !now.trail.length && !now.from;
    part("place").textContent = now.trail.length ? words("so-far", { count: now.trail.length }) : "";
    showTrail();
    showRounds(at);
    showCarried();
    offer(at);
    showReplay();
    page.dispatchEvent(new CustomEvent("ln-arrived", { detail: { at, walk, place: now } }));
  }

  function showTrail() {
    const entries = now.trail.map((step, i) => {
      const { asked } = stepWords(walk, step);
      const button = document.createElement("button");
      button.type = "button";
      button.append(span("asked", asked), " ", span("given", given(step)));
      button.title = words("go-back");
      button.addEventListener("click", () => backTo(i));
      const item = document.createElement("li");
      item.append(button);
      return item;
    });
    part("trail-list").replaceChildren(...entries);
    part("trail").hidden = !entries.length;
    part("unreached").hidden = !job.unreached.length;
    part("unreached-list").replaceChildren(...job.unreached.map((one) => {
      const item = document.createElement("li");
      item.append(span("asked", one.asked), " ", span("given", givenWords(one)));
      return item;
    }));
  }

  /** A loop that the guide allows has a bound; past it, going round again shows nothing new. */
  function showRounds(at) {
    const rounds = now.trail.filter((step) => step.at === at).length;
    part("round").hidden = !(rounds >= Number(walk.nodes.get(at).dataset.atMost));
    part("round").querySelector("strong").textContent = `${rounds}`;
  }

  /** What the model showed here, on a walk that was computed; the answer it takes is marked. */
  function showReplay() {
    const { replay, trail } = now;
    page.toggleAttribute("data-replaying", Boolean(replay));
    part("replay").hidden = !replay;
    root.querySelectorAll("a[data-go][aria-current]").forEach((link) => link.removeAttribute("aria-current"));
    if (!replay) return;
    part("replay-case").textContent = words("replay-case", replay);
    part("replay-shown").textContent = hopWords(replay, trail.length, taken(), words);
    part("next").disabled = !taken();
    part("replay-back").disabled = !trail.length;
    taken()?.setAttribute("aria-current", "step");
  }

  /** Begins the walk that the address asks for, if the build has computed it. @param {string} id */
  async function replay(id) {
    const found = await loadReplay(page.dataset.replays, id);
    const fits = found?.hops.every(([node, exit]) => walk.exits(node)[exit]);
    if (fits) {
      now = { trail: [], carry: {}, replay: found };
      history.replaceState(now, "");
      show();
      arrive();
    } else part("status").textContent = words("no-replay");
  }

  /** The answer the caller gave to the question at `at`, if this walk carries one. */
  const saidAt = (at) => {
    const said = now.carry[walk.nodes.get(at).dataset.remember];
    return said && walk.exits(at).find((exit) => exit.dataset.is === said);
  };

  function showCarried() {
    const carried = Object.keys(now.carry).length;
    part("carried").hidden = !carried || Boolean(now.trail.length);
    part("carried").querySelector("strong").textContent = words(carried === 1 ? "one-answer" : "answers", { count: carried });
  }

  /** The answer that stands ready at `at`: the one given here before it was taken back, or else the caller's. */
  function ready(at) {
    if (now.replay) return undefined;
    const before = job.before(at), said = saidAt(at);
    if (before) return { form: "before-form", link: before.link, how: before.typed ? { typed: before.typed } : {} };
    return said && { form: "said-form", link: said, how: { said: true } };
  }

  /** Shows it, to be accepted with one press. */
  function offer(at) {
    page.querySelectorAll("[data-said]").forEach((box) => box.remove());
    const found = ready(at);
    if (!found) return;
    const { form, link, how } = found;
    const box = part(form).content.firstElementChild.cloneNode(true);
    box.querySelector("strong").textContent = givenWords({ typed: how.typed, answer: link.dataset.words });
    box.querySelector("button").addEventListener("click", (event) => isFirst(event) && answer(link, how));
    walk.nodes.get(at).querySelector("form[data-reading], ul.ln-answers").before(box);
  }

  /** An outcome of a call tree hands its answers to the site trees it names. */
  function carryOn(at) {
    const answers = remembered(walk, now.trail);
    const hash = Object.keys(answers).length ? carryText(answers) : "";
    for (const link of walk.nodes.get(at).querySelectorAll("a[data-carries]")) link.hash = hash;
  }

  root.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-go]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    if (isFirst(event)) answer(link);
  });
  part("back").addEventListener("click", back);
  part("again").addEventListener("click", restart);
  part("from-start").addEventListener("click", restart);
  part("begin-anew").addEventListener("click", restart);
  part("go-on").addEventListener("click", () => resume(job.takeUp()));
  part("show-theirs").addEventListener("click", () => resume(job.takeUp(job.id)));
  const danger = offerDanger(page, () => now.replay || job.danger(here()));
  part("next").addEventListener("click", () => answer(taken()));
  part("replay-back").addEventListener("click", back);
  part("leave").addEventListener("click", () => go({ trail: [], carry: {} }));

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("dialog")) return;
    const field = event.target.closest("input, textarea, select, [contenteditable]");
    if (field) {
      if (event.key === "Escape" && root.contains(field)) walk.heading(here()).focus();
    } else if (pressed(event)) {
      event.preventDefault();
      event.stopPropagation(); // the theme has keys of its own
    }
  }, true);

  /** @param {KeyboardEvent} event @returns {boolean} whether the key means something here */
  function pressed({ key, target, repeat }) {
    const once = (act) => (repeat || act(), true); // a key held down answers one question only
    if (key === "Backspace" || key === "Escape") return once(back);
    if (now.replay && (key === "ArrowRight" || (key === "Enter" && !target.closest("a, button, summary, label")))) {
      return once(() => taken() && answer(taken()));
    }
    if (now.replay && key === "ArrowLeft") return once(back);
    if (key === "!") return once(danger);
    if (key === "c" && !part("record").hidden) return once(() => part("copy").click());
    if (key === "Enter") {
      const found = !target.closest("a, button, summary, label") && ready(here());
      return Boolean(found) && once(() => answer(found.link, found.how));
    }
    const box = walk.nodes.get(here()).querySelector("input[data-typed]");
    if (box && !now.replay && /^[0-9.,]$/.test(key)) return once(() => typeInto(box, key));
    const link = walk.exits(here()).find((exit) => exit.dataset.key === key.toLowerCase());
    return Boolean(link) && once(() => answer(link));
  }

  /** Goes on with a kept job where it stood. @param {ReturnType<typeof job.takeUp>} found */
  function resume(found) {
    if (!found) return;
    const { place, lost, version } = found;
    now = { ...place, resumed: place.trail.length };
    keepJob();
    history.replaceState({ ...now, job: job.id }, "", `#${here()}`);
    show();
    showKept("kept");
    part("not-kept").hidden = part("open-job").hidden = true;
    const first = new Date(job.record.begun);
    part("resumed").hidden = false;
    part("resumed").querySelector("span").textContent = words(lost ? "no-fit" : "goes-on", {
      count: place.trail.length, lost, version, time: first.toLocaleString([], { dateStyle: "medium", timeStyle: "short" }),
    });
    part("status").textContent = part("resumed").querySelector("span").textContent;
  }

  /** Takes up the place a history entry kept, or the one the address names. */
  function restore(state) {
    const carried = !state && carriedBy(location.hash, asksFor(walk));
    if (carried) {
      state = { trail: [], carry: carried };
      history.replaceState(state, "", location.pathname + location.search);
    }
    const asked = !state && page.dataset.replays && replayAsked(location.hash);
    if (asked) replay(asked);
    const wanted = decoded(location.hash.slice(1));
    const straight = walk.nodes.has(wanted) && wanted !== walk.start ? { from: wanted } : {};
    if (state?.job && state.job !== job.id) job.takeUp(state.job);
    now = soundPlace(walk, state ?? { carry: now.carry, ...straight });
    keepJob();
    show();
  }
  addEventListener("popstate", ({ state }) => (restore(state), arrive()));

  /** The page is opened: a job that was left open goes on, unless the address asks for something else. */
  function open() {
    const asked = /^#job=([a-z0-9]+)$/.exec(location.hash)?.[1];
    const found = asked || !(history.state || location.hash.length > 1) ? job.takeUp(asked) : undefined;
    if (found?.place.trail.length || found?.lost) return resume(found);
    restore(history.state);
    const other = !history.state && !job.id && !now.replay && openJob();
    if (other && other.tree === page.dataset.tree && now.from) part("open-job").hidden = false;
  }

  for (const node of walk.nodes.values()) enhanceReading(node, words, answer);
  enhanceHandOn(page, part);
  enhanceRecord(page, part, words, job);
  page.setAttribute("data-enhanced", "");
  open();
}

/** The second press of a double press would answer the next question unread. @param {MouseEvent} event */
const isFirst = (event) => event.detail < 2;

/** @param {HTMLInputElement} box @param {string} key */
function typeInto(box, key) {
  box.focus();
  box.setRangeText(key, box.value.length, box.value.length, "end");
  box.dispatchEvent(new Event("input"));
}

function span(name, text) {
  const made = document.createElement("span");
  made.className = `ln-${name}`;
  made.textContent = text;
  return made;
}

document.querySelectorAll("[data-walk]").forEach(startWalk);
enhanceTerms(document);
