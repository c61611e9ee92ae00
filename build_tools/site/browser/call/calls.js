/**
 * Calls from one street, put together for the calculator that finds the place. Homes stay in this tab only, and
 * are gone with it: the job's record asks for no address.
 *
 * @typedef {{street: string, home: string, seen: string}} Call
 */
import { wordsIn } from "../page/words.js";

const ROOT = new URL("..", document.currentScript?.src ?? location.href).href;
const CALLS = `lost-neutral:calls:${new URL(ROOT).pathname}`;
const MOST = 4; // as many as the calculator takes

/**
 * @param {HTMLElement | null} box the element with data-part="street-calls"
 * @returns {(seen: string) => void} puts what this caller has seen into the form
 */
export function enhanceCalls(box) {
  if (!box) return () => undefined;
  const part = (name) => box.querySelector(`[data-part="${name}"]`);
  const words = wordsIn(box), homes = JSON.parse(part("streets").textContent);
  const { street, home, seen } = part("call-from").elements;

  const fillHomes = () =>
    home.replaceChildren(...(homes[street.value] ?? []).map((name) => new Option(name, name)));

  function show() {
    const mine = calls().filter((call) => call.street === street.value).slice(-MOST);
    part("calls").hidden = !mine.length;
    part("calls-list").textContent = mine.map((call) => words("call", call)).join("; ");
    const asked = new URLSearchParams({ street: street.value });
    mine.forEach((call, i) => (asked.set(`home_${i + 1}`, call.home), asked.set(`seen_${i + 1}`, call.seen)));
    part("locate").href = `${ROOT}calculators/locate.html#${asked}`;
  }

  street.addEventListener("change", () => (fillHomes(), show()));
  part("call-from").addEventListener("submit", (event) => {
    event.preventDefault();
    const others = calls().filter((call) => call.street !== street.value || call.home !== home.value);
    keep([...others, { street: street.value, home: home.value, seen: seen.value }]);
    show();
  });
  part("calls-clear").addEventListener("click", () => (keep([]), show()));

  const last = calls().at(-1)?.street; // the next call may well come from there
  if (last in homes) street.value = last;
  fillHomes();
  show();
  box.hidden = false;
  return (word) => (seen.value = word);
}

/** @returns {Call[]} */
function calls() {
  try {
    const list = JSON.parse(sessionStorage.getItem(CALLS) ?? "[]");
    return list.filter(({ street, home, seen }) => [street, home, seen].every((word) => typeof word === "string"));
  } catch {
    return [];
  }
}

/** @param {Call[]} list */
function keep(list) {
  try {
    sessionStorage.setItem(CALLS, JSON.stringify(list));
  } catch {
    // denied: nothing is put together, and the form says so by showing none
  }
}
