/**
 * What a calculator's form holds, in the address after the #: only what differs from the values it opens with, so
 * that a case can be linked, kept and carried. `from` besides is the page of this guide the reader came from.
 */

const HERE = /^(trees|streets)\/[\w/-]+\.html(#[\w.-]+)?$/; // a page of this guide and no other

/** All as text; a tick is "yes" or "no". @param {HTMLFormElement} form @returns {Record<string, string>} */
export const valuesOf = (form) =>
  Object.fromEntries([...form.querySelectorAll(":is(input, select)[name]")].map((control) =>
    [control.name, control.type === "checkbox" ? (control.checked ? "yes" : "no") : control.value]));

/** @returns {string | undefined} the page that `from` names, from the site's own folder */
export function cameFrom() {
  const from = new URLSearchParams(location.hash.slice(1)).get("from");
  return from && HERE.test(from) ? from : undefined;
}

/** Write what differs from the first values into the address, without a step in the history. */
export function writeAddress(form, first) {
  const differing = Object.entries(valuesOf(form)).filter(([name, value]) => value !== first[name]);
  const from = cameFrom();
  const held = new URLSearchParams(from ? [...differing, ["from", from]] : differing);
  const kept = String(held).replaceAll("%40", "@");
  history.replaceState(history.state, "", kept ? `#${kept}` : location.pathname + location.search);
}

/**
 * Put what the address holds into the fields of those names. Python says which of it can be used.
 * @param {HTMLFormElement} form
 * @param {(name: string) => string} words
 * @returns {{found: boolean, unknown: string[]}} whether there was anything for this form, and the names it has not
 */
export function readAddress(form, words) {
  const fragment = location.hash.slice(1);
  const unknown = [];
  let found = false;
  for (const [name, value] of fragment.includes("=") ? new URLSearchParams(fragment) : []) {
    if (name === "from") continue;
    const control = form.querySelector(`fieldset [name="${CSS.escape(name)}"]`);
    if (!control) unknown.push(name);
    else fill(control, value, words);
    found ||= Boolean(control);
  }
  return { found, unknown };
}

function fill(control, value, words) {
  if (control.type === "checkbox") {
    control.checked = value === "yes";
    return;
  }
  if (control.localName === "select" && ![...control.options].some((option) => option.value === value)) {
    control.add(new Option(value.length > 40 ? words("linked-street") : value, value));
  }
  control.value = value;
}
