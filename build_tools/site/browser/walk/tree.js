/**
 * Walks a tree one node at a time. The page already holds every node with links between them; this hides all
 * but the one reached, and adds keys, a typed reading, the trail, the job and its record.
 */
import { enhanceHandOn } from "../call/hand-on.js";
import { offerDanger } from "../danger/danger.js";
import { jobOfWalk } from "../job/job-of-walk.js";
import { enhanceRecord } from "../job/record.js";
import { enhanceTerms } from "../page/terms.js";
import { enhanceReading } from "../reading/typed.js";
import { enhanceKeys } from "./keys.js";
import { isFirst } from "./offer.js";
import { answer, arrive, back, go, mark, restart } from "./place.js";
import { taken } from "./replaying.js";
import { restoreOwn, takeUp } from "./restored.js";
import { resume, showKept } from "./resumed.js";
import { here, visitOf } from "./visit.js";

/** @param {HTMLElement} root the element with data-walk */
function startWalk(root) {
  const visit = visitOf(root), { page, part, walk, words } = visit;
  visit.job = jobOfWalk(page, walk, (state) => showKept(visit, state));
  enhanceAnswers(visit);
  enhanceButtons(visit);
  enhanceKeys(visit, offerDanger(page, () => visit.now.replay || (visit.job.danger(here(visit)), mark(visit))));
  addEventListener("popstate", async () => {
    await restoreOwn(visit);
    arrive(visit);
  });
  for (const node of walk.nodes.values()) enhanceReading(node, words, (link, how) => answer(visit, link, how));
  enhanceHandOn(page, part);
  enhanceRecord(page, part, words, visit.job);
  page.setAttribute("data-enhanced", "");
  takeUp(visit);
}

/** A press on an answer gives it; where a figure decides, its ranges only explain. */
function enhanceAnswers(visit) {
  visit.root.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-go]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    const explains = link.hasAttribute("data-explains") && !visit.now.replay;
    if (explains) link.closest("[data-node]").dispatchEvent(new Event("ln-explained"));
    else if (isFirst(event)) answer(visit, link);
  });
}

function enhanceButtons(visit) {
  const { part, call, job } = visit;
  const presses = {
    back: () => back(visit),
    again: () => restart(visit),
    "from-start": () => restart(visit),
    "begin-anew": () => restart(visit),
    ...(call && { look: () => go(visit, { trail: [], carry: {}, from: visit.later }) }),
    "go-on": () => resume(visit, job.takeUp()),
    "show-theirs": () => resume(visit, job.takeUp(job.id)),
    next: () => answer(visit, taken(visit)),
    "replay-back": () => back(visit),
    leave: () => go(visit, { trail: [], carry: {} }),
  };
  for (const [name, press] of Object.entries(presses)) part(name).addEventListener("click", press);
}

document.querySelectorAll("[data-walk]").forEach(startWalk);
enhanceTerms(document);
