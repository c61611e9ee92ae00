/**
 * At the end of a call: the way to the crew as a code to scan, and what was said joined with other calls from the
 * same street. Homes stay in this tab only, and are gone with it: the job's record asks for no address.
 */
import { encode } from "uqr";

const ROOT = new URL("..", document.currentScript?.src ?? location.href).href;
const CALLS = `lost-neutral:calls:${new URL(ROOT).pathname}`;
const MOST = 4; // as many as the calculator takes

/**
 * @param {HTMLElement} page the element with data-tree
 * @param {(name: string) => HTMLElement} part
 * @param {(name: string, values?: object) => string} words
 */
export function enhanceHandOn(page, part, words) {
  const box = part("hand-on");
  if (!box) return;
  const streets = JSON.parse(part("streets").textContent), form = part("call-from");
  const { street, home, seen } = form.elements;

  page.addEventListener("ln-arrived", ({ detail: { at, place, walk } }) => {
    const node = walk.nodes.get(at), link = node.querySelector("a[data-carries]");
    box.hidden = !("outcome" in node.dataset) || Boolean(place.replay);
    if (box.hidden) return;
    node.append(box);
    part("code").hidden = !link || location.protocol === "file:"; // a tablet could not open this folder
    if (!part("code").hidden) draw(part("code").querySelector("svg"), link.href);
    seen.value = seenBy(walk, place);
    showCalls();
  });
  street.addEventListener("change", () => (fillHomes(), showCalls()));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const others = calls().filter((call) => call.street !== street.value || call.home !== home.value);
    keep([...others, { street: street.value, home: home.value, seen: seen.value }]);
    showCalls();
  });
  part("calls-clear").addEventListener("click", () => (keep([]), showCalls()));
  fillHomes();

  function fillHomes() {
    home.replaceChildren(...(streets[street.value] ?? []).map((name) => new Option(name, name)));
  }

  function showCalls() {
    const mine = calls().filter((call) => call.street === street.value).slice(-MOST);
    part("calls").hidden = !mine.length;
    part("calls-list").textContent = mine.map((call) => words("call", call)).join("; ");
    const held = new URLSearchParams({ street: street.value });
    mine.forEach((call, i) => (held.set(`home_${i + 1}`, call.home), held.set(`seen_${i + 1}`, call.seen)));
    part("locate").href = `${ROOT}calculators/locate.html#${held}`;
  }
}

/** What this caller's answers say of the lights, in the calculator's words. */
function seenBy(walk, { trail }) {
  const said = new Map(trail.map(({ at, exit }) => [walk.nodes.get(at).dataset.remember, walk.exits(at)[exit].dataset.is]));
  if (said.get("tingle") === "felt") return "tingle";
  return { bright: "bright", dim: "dim" }[said.get("lights")] ?? "normal";
}

function calls() {
  try {
    return JSON.parse(sessionStorage.getItem(CALLS) ?? "[]");
  } catch {
    return [];
  }
}

function keep(list) {
  try {
    sessionStorage.setItem(CALLS, JSON.stringify(list));
  } catch {
    // denied: nothing is joined, and the form says so by showing none
  }
}

/** @param {SVGSVGElement} svg @param {string} text */
function draw(svg, text) {
  const { data, size } = encode(text, { ecc: "M", border: 4 });
  const squares = data.flatMap((row, y) => row.flatMap((dark, x) => (dark ? `M${x} ${y}h1v1h-1z` : [])));
  svg.setAttribute("viewBox", `0 0 ${size} ${size}`);
  svg.querySelector("path").setAttribute("d", squares.join(""));
}
