/** Work that can wait until the page has shown what it has. */

const UNSEEN_MS = 100; // a page in the background is not painted

/** @returns {Promise<void>} once the changes made so far can be seen, or soon after in a page that nobody sees */
export const painted = () =>
  new Promise((resume) => {
    const unseen = setTimeout(resume, UNSEEN_MS);
    requestAnimationFrame(() => {
      clearTimeout(unseen);
      setTimeout(resume);
    });
  });
