/**
 * Whether what was found under a job's key is a job, to the last field that a page leans on: an older edition, another
 * program or a person may have written it. The published schema (job_record.py) says the same, and more.
 */
/** Of the record of a job, as it is kept and saved. */
export const FORMAT = 1;

const isText = (value) => typeof value === "string";
const isTexts = (value) => Array.isArray(value) && value.every(isText);
const isCount = (value) => Number.isSafeInteger(value) && value >= 0;
const isMoment = (value) => isCount(value) && value <= 8.64e15;
const isMaybe = (is) => (value) => value === undefined || value === null || is(value);
const isEach = (is) => (value) => Array.isArray(value) && value.every(is);
const isRecord = (value) => typeof value === "object" && value !== null && !Array.isArray(value);
const has = (shape) => (value) => isRecord(value) && Object.entries(shape).every(([name, is]) => is(value[name]));

const isAnswered = has({
  at: isText, exit: isCount, asked: isText, answer: isText, typed: isMaybe(isText), said: isMaybe((said) => said === true),
  when: isMoment,
});
const isOutcome = has({
  priority: isText, title: isText, say: isTexts, advice: isTexts, handOver: isText, notProven: isText, closes: isText,
  links: isTexts,
});

/** @type {(value: unknown) => boolean} */
export const isJob = has({
  format: (format) => format === FORMAT, id: (id) => /^[a-z0-9]{6,40}$/.test(id), guide: isText, version: isText, build: isText,
  reviewBy: isText, tree: isText, page: (page) => isText(page) && /^trees\/(call|site)\/[a-z0-9._-]+\.html$/.test(page),
  title: isText, begun: isMoment, changed: isMoment, count: isCount, from: isMaybe(isText),
  carry: (carry) => isRecord(carry) && Object.values(carry).every(isText), answers: isEach(isAnswered),
  before: isEach(isAnswered), dangers: isEach(has({ at: isText, asked: isText, when: isMoment })),
  outcome: isMaybe(isOutcome), note: isText,
});
