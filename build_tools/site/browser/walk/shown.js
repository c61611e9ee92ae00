/**
 * What the page shows of a walk: the node reached, the answers so far, how often it went round, what was carried.
 *
 * @typedef {object} Acts what the buttons do that are made here
 * @property {(link: HTMLAnchorElement, how: import("./place.js").How) => void} answer
 * @property {(length: number) => void} backTo
 */
import { holdCall } from "../call/window-of-call.js";
import { givenWords } from "../job/job-text.js";
import { offer } from "./offer.js";
import { showReplay } from "./replaying.js";
import { stepWords } from "./trail.js";
import { givenAt, here } from "./visit.js";

/** @param {import("./visit.js").Visit} visit @param {Acts} acts */
export function showPlace(visit, acts) {
  const { page, walk, now } = visit, at = here(visit);
  for (const [id, node] of walk.nodes) node.hidden = id !== at;
  page.toggleAttribute("data-begun", Boolean(now.trail.length || now.from || now.replay));
  showBar(visit);
  showTrail(visit, acts.backTo);
  showUnreached(visit);
  showRounds(visit, at);
  showCarried(visit);
  holdEarlier(visit, at);
  offer(visit, at, acts.answer);
  showReplay(visit);
  page.dispatchEvent(new CustomEvent("ln-arrived", { detail: { at, walk, place: now } }));
}

/** Whence the walk came, what can be taken back, and how far it is. */
function showBar({ part, words, call, job, now, later }) {
  part("by-link").hidden = !now.from;
  if (call) {
    part("later").hidden = !later;
    holdCall(job.id);
  }
  part("back").disabled = !now.trail.length;
  part("again").disabled = !now.trail.length && !now.from;
  part("place").textContent = now.trail.length ? words("so-far", { count: now.trail.length }) : "";
}

/** Each answer so far is a button that goes back to its question. */
function showTrail(visit, backTo) {
  const { part, walk, words, now } = visit;
  const entries = now.trail.map((step, i) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...asked(stepWords(walk, step).asked, givenAt(visit, step)));
    button.title = words("go-back");
    button.addEventListener("click", () => backTo(i));
    return item(button);
  });
  part("trail-list").replaceChildren(...entries);
  part("trail").hidden = !entries.length;
}

/** Answers that the ones given since do not lead to. */
function showUnreached({ part, job }) {
  part("unreached").hidden = !job.unreached.length;
  part("unreached-list").replaceChildren(...job.unreached.map((one) => item(...asked(one.asked, givenWords(one)))));
}

/** A loop that the guide allows has a bound; past it, going round again shows nothing new. */
function showRounds({ part, walk, now }, at) {
  const rounds = now.trail.filter((step) => step.at === at).length;
  part("round").hidden = !(rounds >= Number(walk.nodes.get(at).dataset.atMost));
  part("round").querySelector("strong").textContent = `${rounds}`;
}

/** A reading that is judged by its change is handed the figure that was typed before. */
function holdEarlier({ walk, now }, at) {
  const { dataset } = walk.nodes.get(at), from = dataset.changeFrom;
  if (from) dataset.earlier = now.trail.findLast((step) => step.at === from)?.typed ?? "";
}

function showCarried({ part, words, now }) {
  const carried = Object.keys(now.carry).length;
  part("carried").hidden = !carried || Boolean(now.trail.length);
  part("carried").querySelector("strong").textContent = words(carried === 1 ? "one-answer" : "answers", { count: carried });
}

/** A question and its answer. */
const asked = (question, given) => [span("asked", question), " ", span("given", given)];

function item(...parts) {
  const made = document.createElement("li");
  made.append(...parts);
  return made;
}

function span(name, text) {
  const made = document.createElement("span");
  made.className = `ln-${name}`;
  made.textContent = text;
  return made;
}
