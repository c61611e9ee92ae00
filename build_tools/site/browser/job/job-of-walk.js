/**
 * The job that a walk makes: begun with the first answer, kept after each, taken up again when the page is opened.
 * An answer that is taken back is not lost: it is offered where its question is asked again.
 */
import { jobWith, keep, newId, onChangedElsewhere, openJob, putAside } from "./job.js";
import { FORMAT } from "./job-shape.js";

/**
 * @param {HTMLElement} page the element with data-tree
 * @param {import("../walk/walk.js").Walk} walk
 * @param {(state: "kept" | "full" | "denied" | "elsewhere") => void} tell
 */
export function jobOfWalk(page, walk, tell) {
  const { tree, guide, version, reviewBy, address, title } = page.dataset;
  /** @type {import("./job.js").Job | undefined} */
  let job;
  /** The ids that it had before other windows went on with it. @type {Set<string>} */
  let former = new Set();

  onChangedElsewhere(() => job?.id, () => tell("elsewhere"));

  const begun = (from, carry) => ({
    format: FORMAT, id: newId(), guide, version, build: document.documentElement.dataset.edition ?? "", reviewBy,
    tree, page: address, title, begun: Date.now(), changed: 0, count: 0, ...(from && { from }), carry, answers: [],
    before: [], dangers: [], note: "",
  });

  function kept(now) {
    const { at, exit, when = Date.now(), typed, said } = now;
    const asked = walk.heading(at).textContent.trim(), answer = walk.exits(at)[exit].dataset.words;
    return { at, exit, asked, answer, ...(typed && { typed }), ...(said && { said }), when };
  }

  /** Another window has gone on with this job: what is done here goes on as a job of its own. */
  function write() {
    job.changed = Date.now();
    let state = keep(job);
    if (state === "elsewhere") {
      former.add(job.id);
      job = { ...job, id: newId(), count: 0 };
      state = keep(job) === "kept" ? "elsewhere" : state;
    }
    tell(state);
  }

  /** No job is done here any more; what was one stays as it is. */
  function drop() {
    job = undefined;
    former = new Set();
  }

  return {
    get id() {
      return job?.id;
    },

    /** Whether what bears this id is of the job that is done here; without one, of none. @param {string} [id] */
    has: (id) => id === job?.id || former.has(id),

    /** The walk has come to this place. @param {import("../walk/trail.js").Place} place @param {import("./job.js").Outcome} [outcome] */
    at({ trail, from, carry, replay }, outcome) {
      if (replay || (!job && !trail.length)) return;
      job ??= begun(from, carry);
      const answers = trail.map(kept), still = new Set(answers.map(({ at }) => at));
      const cut = job.answers.filter((one, i) => !isSame(one, answers[i]));
      const before = [...job.before, ...cut].filter(({ at }, i, all) =>
        !still.has(at) && i === all.findLastIndex((one) => one.at === at));
      const changed = JSON.stringify([answers, before, outcome]) !== JSON.stringify([job.answers, job.before, job.outcome]);
      Object.assign(job, { answers, before, outcome, from });
      if (changed) write();
    },

    /** What was answered here before it was taken back. @param {string} at @returns {HTMLAnchorElement | undefined} */
    before(at) {
      const one = job?.before.findLast((answered) => answered.at === at);
      const link = one && exitOf(walk, one);
      return link && { link, typed: one.typed, when: one.when };
    },

    /** Answers that the ones given since do not lead to. */
    get unreached() {
      return job?.before ?? [];
    },

    danger(at) {
      job ??= begun(undefined, {});
      job.dangers.push({ at, asked: walk.heading(at).textContent.trim(), when: Date.now() });
      write();
    },

    note(text) {
      if (!job || job.note === text) return;
      job.note = text;
      write();
    },

    get record() {
      return job;
    },

    /** The job that is done here, when the page is opened anew: the one with that id, or the open one of this tree. */
    takeUp(id) {
      const found = id ? jobWith(id) : openJob();
      former = new Set();
      job = found?.tree === tree ? structuredClone(found) : undefined;
      if (!job) return undefined;
      const { trail, lost } = fitting(walk, job);
      job.before.push(...lost);
      return { place: { trail, carry: job.carry, from: job.from }, lost: lost.length, version: job.version };
    },

    /** The job that another history entry is of; without an id none is done here, and what was stays as it is. */
    other(id) {
      drop();
      return id ? this.takeUp(id) : undefined;
    },

    /** Another job begins, with the next answer. */
    leave() {
      if (job) putAside(job.id);
      drop();
    },
  };
}

const isSame = (one, other) => other && one.at === other.at && one.answer === other.answer && one.typed === other.typed;

/** The answer of this page that a kept one was: an edition may have put answers into another order. */
function exitOf(walk, { at, exit, answer }) {
  const exits = walk.nodes.has(at) ? walk.exits(at) : [];
  return exits[exit]?.dataset.words === answer ? exits[exit] : exits.find((link) => link.dataset.words === answer);
}

/** A job's answers as far as this page's tree still asks for them, and those that it does not. */
function fitting(walk, { answers, from }) {
  const trail = [];
  let at = from && walk.nodes.has(from) ? from : walk.start;
  for (const one of from && at !== from ? [] : answers) {
    const link = one.at === at && exitOf(walk, one);
    if (!link) break;
    const { typed, said, when } = one;
    trail.push({ at, exit: walk.exits(at).indexOf(link), when, ...(typed && { typed }), ...(said && { said }) });
    at = link.dataset.go;
  }
  return { trail, lost: answers.slice(trail.length) };
}
