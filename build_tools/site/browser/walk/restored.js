/** Where a walk stands when its page is opened, or its history is gone through: the entry's own place, or the address's. */
import { carriedBy, decoded } from "../call/carry.js";
import { isElsewhere } from "../call/window-of-call.js";
import { openJob } from "../job/job.js";
import { arrive, keepPlace, show } from "./place.js";
import { replayAsked } from "./replay.js";
import { beginReplay } from "./replaying.js";
import { resume, tellResumed } from "./resumed.js";
import { soundPlace } from "./trail.js";
import { asksFor } from "./walk.js";

/**
 * The page is opened: a visit that was left open goes on, unless the address asks for something else; a call never.
 * @param {import("./visit.js").Visit} visit
 */
export async function takeUp(visit) {
  const { call, job } = visit;
  const asked = /^#job=([a-z0-9]+)$/.exec(location.hash)?.[1];
  const found = asked || !(call || history.state || location.hash.length > 1) ? job.takeUp(asked) : undefined;
  if (asked ? found : found?.place.trail.length || found?.lost) return resume(visit, found);
  if (visit.isReloaded) restore(visit, history.state);
  else await restoreOwn(visit);
  visit.isReloaded = false;
  offerOpenJob(visit);
}

/** A link led into this tree while another visit of it was left open. */
function offerOpenJob({ page, part, call, job, now }) {
  const other = !history.state && !job.id && !now.replay && openJob();
  if (!call && other && other.tree === page.dataset.tree && now.from) part("open-job").hidden = false;
}

/**
 * Takes up the place of this history entry, unless it is the copy of one in another window, where its call is
 * being done: then a call begins anew.
 * @param {import("./visit.js").Visit} visit
 */
export async function restoreOwn(visit) {
  const { root, call, job } = visit, { job: id } = history.state ?? {};
  if (call && id && !job.has(id)) {
    root.hidden = true; // nothing is answered before it is known
    if (await isElsewhere(id)) history.replaceState({ trail: [], carry: {} }, "", location.pathname + location.search);
    root.hidden = false;
  }
  restore(visit, history.state);
}

/** Takes up the place a history entry kept, or the one the address names; a call begins at its first question. */
function restore(visit, entry) {
  const { walk, part, call, job } = visit;
  const state = entry || carriedHere(walk);
  if (!state) replayHere(visit);
  const straight = straightTo(walk);
  visit.later = call && !state ? straight.from : undefined;
  const isOther = state ? !job.has(state.job) : call;
  const found = isOther ? job.other(state?.job) : undefined;
  visit.now = soundPlace(walk, state ?? { carry: visit.now.carry, ...(!call && straight) });
  keepPlace(visit);
  show(visit);
  if (isOther) part("resumed").hidden = true;
  const { now, isReloaded } = visit;
  if (call && !isReloaded && now.trail.length && found) tellResumed(visit, { ...found, place: now });
}

/** The place of a walk into which the address carries answers; they leave the address. */
function carriedHere(walk) {
  const carry = carriedBy(location.hash, asksFor(walk));
  if (!carry) return undefined;
  const place = { trail: [], carry };
  history.replaceState(place, "", location.pathname + location.search);
  return place;
}

/** The replay that the address asks for is begun as soon as it is there. */
function replayHere(visit) {
  const asked = visit.page.dataset.replays && replayAsked(location.hash);
  if (asked) beginReplay(visit, asked, () => (show(visit), arrive(visit)));
}

/** The node that the address leads straight to. */
function straightTo(walk) {
  const wanted = decoded(location.hash.slice(1));
  return walk.nodes.has(wanted) && wanted !== walk.start ? { from: wanted } : {};
}
