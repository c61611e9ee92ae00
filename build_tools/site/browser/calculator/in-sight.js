/**
 * What has the focus stays in sight while an answer of another height is drawn above it.
 * @param {HTMLElement} root
 */
export function keepInSight(root) {
  let seen = false;
  const look = () => {
    const { top, bottom } = document.activeElement.getBoundingClientRect();
    seen = bottom > 0 && top < innerHeight;
  };
  root.addEventListener("focusin", look);
  addEventListener("scroll", look, { passive: true });
  new ResizeObserver(() => {
    const has = document.activeElement;
    if (seen && root.contains(has)) has.scrollIntoView({ block: "nearest" });
  }).observe(root);
}
