/**
 * A tree as its page states it: every node is there, with a link for each of its answers.
 *
 * @typedef {{nodes: Map<string, HTMLElement>, start: string, exits: (id: string) => HTMLAnchorElement[],
 *   heading: (id: string) => HTMLElement}} Walk
 *   exits: the links of a node's answers, in their order
 */

/** @param {HTMLElement} root the element with data-walk @returns {Walk} */
export function walkOf(root) {
  const nodes = new Map([...root.querySelectorAll("[data-node]")].map((node) => [node.dataset.node, node]));
  const exits = new Map([...nodes].map(([id, node]) => [id, [...node.querySelectorAll("a[data-go]")]]));
  return {
    nodes,
    start: root.dataset.start,
    exits: (id) => exits.get(id) ?? [],
    heading: (id) => nodes.get(id).querySelector("h2"),
  };
}

/** Whether this tree has a question that remembers `name` with `value` among its answers. @param {Walk} walk */
export const asksFor = (walk) => (name, value) =>
  [...walk.nodes].some(([id, node]) =>
    node.dataset.remember === name && walk.exits(id).some((exit) => exit.dataset.is === value));

/**
 * What was answered to the questions this tree remembers.
 * @param {Walk} walk @param {import("./trail.js").Step[]} trail @returns {Record<string, string>}
 */
export function remembered(walk, trail) {
  const pairs = trail.map(({ at, exit }) => [walk.nodes.get(at).dataset.remember, walk.exits(at)[exit].dataset.is]);
  return Object.fromEntries(pairs.filter(([name, value]) => name && value));
}
