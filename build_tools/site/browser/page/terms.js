/** A glossary term is a link; a press shows its meaning where it stands, so nobody loses their place. */
export function enhanceTerms(root) {
  root.addEventListener("click", (event) => {
    const link = event.target.closest?.("a[data-means]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    const block = link.closest("p, li, dd, td, h2, div"), open = block.querySelector(":scope > .ln-means");
    open?.remove();
    if (open?.dataset.term === link.textContent) return;
    const note = document.createElement("span");
    note.className = "ln-means";
    note.dataset.term = link.textContent;
    note.setAttribute("role", "note");
    const more = document.createElement("a");
    more.href = link.href;
    more.textContent = "Glossary";
    const name = document.createElement("b");
    name.textContent = link.textContent;
    note.append(name, `: ${link.dataset.means} `, more);
    block.append(note);
  });
}
