/** A job as plain text, to read back, copy or print. */

/**
 * @param {import("./job.js").Job} job
 * @param {(name: string, values?: object) => string} words those of record.html
 */
export function jobText(job, words) {
  const block = (name, lines) => (lines.length && lines[0] ? ["", words(name), ...lines.map((line) => `   ${line}`)] : []);
  const time = (when) => new Date(when).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  const given = (one) => givenWords(one, ` ${words("as-said")}`);
  const told = (one, i) => [`${i + 1}. ${one.asked}`, `   ${given(one)}  [${time(one.when)}]`];
  const { outcome } = job;
  return [
    job.title,
    words("made", { version: job.version, review: job.reviewBy, day: new Date(job.begun).toLocaleString() }),
    "",
    words("answers-title"),
    ...(job.from ? [words("part-way")] : []),
    ...job.answers.flatMap(told),
    ...block("taken-back", job.before.flatMap(told)),
    ...block("dangers", job.dangers.map(({ asked, when }) => `${time(when)}  ${asked}`)),
    ...(outcome ? [
      ...block("outcome", [outcome.priority, outcome.title]),
      ...block("say", outcome.say.map((line) => `- ${line}`)),
      ...block("advice", outcome.advice.map((line) => `- ${line}`)),
      ...block("hand-over", [outcome.handOver]),
      ...block("not-proven", [outcome.notProven]),
      ...block("site-trees", outcome.links),
    ] : ["", words("no-outcome")]),
    ...block("note", job.note.trim() ? job.note.trim().split("\n") : []),
  ].join("\n");
}

/** Copies a box of text. @param {HTMLTextAreaElement} box @returns {Promise<boolean>} false: it is selected instead */
export async function copied(box) {
  try {
    await navigator.clipboard.writeText(box.value);
    return true;
  } catch {
    box.focus();
    box.select();
    return document.execCommand("copy");
  }
}

/**
 * An answer as it is read back: the figure that was typed before the words it fell under.
 * @param {{typed?: string, answer: string, said?: true}} one
 */
export const givenWords = ({ typed, answer, said }, asSaid = "") =>
  (typed ? `${typed} \u2014 ` : "") + answer + (said ? asSaid : "");
