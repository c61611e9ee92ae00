/**
 * A street of the guide changed in the page: loads, phases, gaps in its pipes, homes more or fewer. What comes of it
 * is written as an address (calc/address.py reads it), so it stands in the street's field like any street, travels in
 * a link, and is checked by Python like any other.
 *
 * @typedef {(name: string, values?: object) => string} Words
 * @typedef {{at: string, phases: string[], load_kw: number[], electrode_ohm?: number | null}} Home
 * @typedef {{name: string, joins: string[], gaps: [string, string][]}} Metalwork
 * @typedef {{title: string, premises: Record<string, Home>, metalwork: Metalwork[], mains: object[]}} Street
 */
import { numberOf, typedFigure } from "../reading/typed-figure.js";

const PHASES = ["L1", "L2", "L3"];
const WRITTEN = "1"; // as calc/address.py
const MOST_HOMES = 24;

/**
 * @param {HTMLFormElement} form with a choice called `street`
 * @param {{streets?: Record<string, Street>}} data what the page carries
 * @param {Words} words
 */
export function editStreets(form, data, words) {
  const edits = ` ${words("changed")}`;
  const select = form.elements.street;
  if (!select || !data.streets || !globalThis.CompressionStream) return;
  const box = make("details", { className: "ln-edit" }, make("summary", {}, words("change-street")));
  const inside = make("div", {});
  box.append(inside);
  select.closest("[data-field]").append(box);
  /** @type {Street | undefined} */
  let street;
  let shownFor = "";

  async function show() {
    if (!box.open || select.value === shownFor) return;
    shownFor = select.value;
    street = data.streets[shownFor] ? structuredClone(data.streets[shownFor]) : await read(shownFor).catch(() => undefined);
    draw();
  }

  function draw() {
    if (!street) return inside.replaceChildren(make("p", { className: "ln-help" }, words("fixed-street")));
    inside.replaceChildren(homes(street, edited, words), ...pipes(street, edited, words), adding(street, edited, words));
  }

  /** The street has been changed: write it, and let the calculator answer for it. */
  async function edited(anew = false) {
    if (anew) draw();
    if (!street.title.endsWith(edits)) street.title += edits;
    const address = await write(street);
    const old = [...select.options].find((option) => option.dataset.edited);
    old?.remove();
    const option = new Option(street.title, address, false, true);
    option.dataset.edited = "yes";
    select.add(option);
    select.value = shownFor = address;
    select.dispatchEvent(new Event("input", { bubbles: true }));
    select.dispatchEvent(new Event("change", { bubbles: true }));
  }

  box.addEventListener("toggle", show);
  select.addEventListener("input", show);
  form.addEventListener("reset", () => setTimeout(show));
  addEventListener("hashchange", () => setTimeout(show));
  // what is typed here is the street's, not a field of the calculator's
  for (const kind of ["input", "change"]) inside.addEventListener(kind, (event) => event.stopPropagation());
}

/** A row for each home. @param {Street} street @param {(anew?: boolean) => void} edited @param {Words} words */
function homes(street, edited, words) {
  const names = Object.keys(street.premises);
  return make("ul", { className: "ln-edit-homes" }, ...names.map((name) => {
    const home = street.premises[name];
    const loads = home.phases.map((phase, place) => {
      const load = field(
        home.phases.length > 1 ? words("load-on", { phase }) : words("load"),
        words("load-of", { home: name, phase }), home.load_kw[place]);
      const box = load.querySelector("input");
      box.addEventListener("change", () => {
        const figure = typedFigure(box.value), typed = figure.unit ? NaN : numberOf(figure);
        const usable = typed >= 0 && typed <= 100;
        box.setAttribute("aria-invalid", String(!usable));
        box.title = usable ? "" : words(figure.values ? figure.problem : "load-range", figure.values);
        if (usable) edited((home.load_kw[place] = typed, false));
      });
      return load;
    });
    const phase = home.phases.length > 1 ? [] : [choice(words("phase"), words("phase-of", { home: name }), PHASES, home.phases[0], (chosen) => {
      home.phases = [chosen];
      edited(true);
    })];
    const remove = press(words("remove"), () => edited((without(street, name), true)));
    remove.setAttribute("aria-label", words("remove-home", { home: name }));
    remove.disabled = names.length < 2;
    return make("li", {}, make("b", {}, name), ...phase, ...loads, remove);
  }));
}

/** A tick for each length of pipe between neighbours. */
function pipes(street, edited, words) {
  return street.metalwork.filter((pipe) => pipe.joins.length > 1).map((pipe) => {
    const pairs = pipe.joins.slice(1).map((home, place) => [pipe.joins[place], home]);
    const same = (gap, pair) => gap.every((home) => pair.includes(home));
    return make("fieldset", {}, make("legend", {}, words("metal", { pipe: pipe.name })), ...pairs.map((pair) => {
      const box = make("input", { type: "checkbox", checked: !pipe.gaps.some((gap) => same(gap, pair)) });
      box.addEventListener("change", () => {
        pipe.gaps = pipe.gaps.filter((gap) => !same(gap, pair));
        if (!box.checked) pipe.gaps.push(pair);
        edited();
      });
      return make("label", { className: "ln-tick" }, box, ` ${words("between", { one: pair[0], other: pair[1] })}`);
    }));
  });
}

/** A button that puts one more home at the end of the street, like the last, on the next phase. */
function adding(street, edited, words) {
  const names = Object.keys(street.premises);
  const more = press(words("add-home"), () => {
    const last = names.at(-1);
    const home = structuredClone(street.premises[last]);
    const name = fresh(last, names);
    if (home.phases.length === 1) home.phases = [PHASES[(PHASES.indexOf(home.phases[0]) + 1) % PHASES.length]];
    street.premises[name] = home;
    street.metalwork.filter((pipe) => pipe.joins.at(-1) === last).forEach((pipe) => pipe.joins.push(name));
    edited(true);
  });
  more.disabled = names.length >= MOST_HOMES;
  return more;
}

/** @param {Street} street the home is taken out of it, the pipe running on between its neighbours */
function without(street, name) {
  delete street.premises[name];
  for (const pipe of street.metalwork) {
    const at = pipe.joins.indexOf(name);
    if (at < 0) continue;
    const broken = pipe.gaps.some((gap) => gap.includes(name));
    const [before, after] = [pipe.joins[at - 1], pipe.joins[at + 1]];
    pipe.joins.splice(at, 1);
    pipe.gaps = pipe.gaps.filter((gap) => !gap.includes(name));
    if (broken && before && after) pipe.gaps.push([before, after]);
  }
  street.metalwork = street.metalwork.filter((pipe) => pipe.joins.length);
}

/** The next number of that side of the street, or the name with a number behind it. */
function fresh(last, names) {
  const number = /^\d+$/.test(last) ? Number(last) + 2 : 0;
  if (number && !names.includes(String(number))) return String(number);
  let count = 2;
  while (names.includes(`${last} ${count}`)) count += 1;
  return `${last} ${count}`;
}

/** @param {Street} street @returns {Promise<string>} as calc.address.street_address writes it */
async function write(street) {
  const packed = await through(new CompressionStream("deflate"), new TextEncoder().encode(JSON.stringify(street)));
  const letters = btoa(String.fromCharCode(...packed)).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
  return `${WRITTEN}.${letters}`;
}

/** @param {string} address @returns {Promise<Street>} */
async function read(address) {
  const letters = address.slice(address.indexOf(".") + 1).replaceAll("-", "+").replaceAll("_", "/");
  const packed = Uint8Array.from(atob(letters), (letter) => letter.charCodeAt(0));
  const street = JSON.parse(new TextDecoder().decode(await through(new DecompressionStream("deflate"), packed)));
  for (const pipe of street.metalwork ?? (street.metalwork = [])) pipe.gaps ??= []; // what has its default may be left out
  return street;
}

async function through(stream, bytes) {
  return new Uint8Array(await new Response(new Blob([bytes]).stream().pipeThrough(stream)).arrayBuffer());
}

/** @param {string} label beside the box @param {string} named what it is called to those who do not see its row */
function field(label, named, value) {
  const box = make("input", { type: "text", inputMode: "decimal", value: String(value) });
  box.setAttribute("aria-label", named);
  return make("label", {}, label, box);
}

function choice(label, named, options, chosen, then) {
  const select = make("select", {}, ...options.map((option) => new Option(option, option, false, option === chosen)));
  select.setAttribute("aria-label", named);
  select.addEventListener("change", () => then(select.value));
  return make("label", {}, label, select);
}

function press(label, then) {
  const made = make("button", { type: "button" }, label);
  made.addEventListener("click", then);
  return made;
}

function make(name, properties, ...children) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...children);
  return made;
}
