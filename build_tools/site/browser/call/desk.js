/** The desk, beside its box to find things in: one key to what to say in danger, and calls from one street. */
import { enhanceCalls } from "./calls.js";
import { offerDanger } from "../danger/danger.js";

/** @param {HTMLElement} page the element with data-desk */
function start(page) {
  const danger = offerDanger(page, () => undefined), said = page.querySelector("[data-part=said]");
  enhanceCalls(page.querySelector("[data-part=street-calls]"));
  addEventListener("keydown", (event) => {
    const { key, ctrlKey, metaKey, altKey, target } = event;
    const inField = target.closest("input, textarea, select, dialog") && (target !== said || said.value);
    if (key !== "!" || ctrlKey || metaKey || altKey || inField) return; // nobody's words begin with it
    event.preventDefault();
    danger();
  });
  page.dataset.desk = "ready";
}

document.querySelectorAll("[data-desk]").forEach(start);
