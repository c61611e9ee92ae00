/**
 * What has the focus stays in sight while an answer of another height is drawn above it. A look at a page that has moved
 * already, and was not yet put right, tells nothing.
 * @param {HTMLElement} root
 */
export function keepInSight(root) {
  let seen = false;
  let tall = root.offsetHeight;
  const look = () => {
    const { top, bottom } = document.activeElement.getBoundingClientRect();
    seen = bottom > 0 && top < innerHeight;
  };
  root.addEventListener("focusin", look);
  addEventListener("scroll", () => root.offsetHeight === tall && look(), { passive: true });
  new ResizeObserver(() => {
    tall = root.offsetHeight;
    const has = document.activeElement;
    if (seen && root.contains(has)) has.scrollIntoView({ block: "nearest" });
  }).observe(root);
}
