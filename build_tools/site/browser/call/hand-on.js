/** At the end of a call: the way to the crew as a code to scan, and this call put with others from its street. */
import { encode } from "uqr";

import { enhanceCalls } from "./calls.js";
import { painted } from "../page/painted.js";

/**
 * @param {HTMLElement} page the element with data-tree
 * @param {(name: string) => HTMLElement} part
 */
export function enhanceHandOn(page, part) {
  const box = part("hand-on");
  if (!box) return;
  const showSeen = enhanceCalls(part("street-calls"));

  page.addEventListener("ln-arrived", ({ detail: { at, place, walk } }) => {
    const node = walk.nodes.get(at), link = node.querySelector("a[data-carries]");
    box.hidden = !("outcome" in node.dataset) || Boolean(place.replay);
    if (box.hidden) return;
    node.append(box);
    part("code").hidden = !link || location.protocol === "file:"; // a tablet could not open this folder
    showSeen(seenBy(walk, place));
    if (!part("code").hidden) painted().then(() => draw(part("code").querySelector("svg"), link.href));
  });
}

/** What this caller's answers say of the lights, in the calculator's words. */
function seenBy(walk, { trail }) {
  const said = new Map(trail.map(({ at, exit }) => [walk.nodes.get(at).dataset.remember, walk.exits(at)[exit].dataset.is]));
  if (said.get("tingle") === "felt") return "tingle";
  return { bright: "bright", dim: "dim" }[said.get("lights")] ?? "normal";
}

/** One mask is as readable as another; to choose among all eight would hold up the page. */
const LOOK = { ecc: "M", border: 4, maskPattern: 2 };

/** @param {SVGSVGElement} svg @param {string} text */
function draw(svg, text) {
  const { data, size } = encode(text, LOOK);
  const squares = data.flatMap((row, y) => row.flatMap((dark, x) => (dark ? `M${x} ${y}h1v1h-1z` : [])));
  svg.setAttribute("viewBox", `0 0 ${size} ${size}`);
  svg.querySelector("path").setAttribute("d", squares.join(""));
}
