/** One touch from anywhere in a tree: something dangerous was found. What to do now; then back to the same place. */

/**
 * Makes the page's own section a dialog; without this script the link leads to it.
 * @param {HTMLElement} page the element with data-tree
 * @param {() => void} found called when it is opened
 * @returns {() => void} opens it
 */
export function offerDanger(page, found) {
  const section = page.querySelector("[data-part=danger]");
  const dialog = document.createElement("dialog");
  dialog.className = "ln-danger-now";
  const heading = section.querySelector("h2");
  heading.tabIndex = -1;
  dialog.setAttribute("aria-labelledby", heading.id);
  section.replaceWith(dialog);
  dialog.append(...section.childNodes);
  const open = () => {
    if (dialog.open) return;
    dialog.showModal();
    heading.focus(); // on a telephone the first link lies below what is to be done first
    dialog.scrollTop = 0;
    found();
  };
  page.querySelector("[data-part=danger-found]").addEventListener("click", (event) => {
    event.preventDefault();
    open();
  });
  dialog.querySelector("[data-part=danger-back]").addEventListener("click", (event) => {
    event.preventDefault();
    dialog.close();
  });
  return open;
}
