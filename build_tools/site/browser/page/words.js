/** Words for scripts stand in the page, as `<template data-words="NAME">`, so that a guide can be translated. */

/**
 * @param {ParentNode} root
 * @returns {(name: string, values?: Record<string, string | number>) => string} the words with {blanks} filled in
 */
export const wordsIn = (root) => (name, values = {}) =>
  root.querySelector(`template[data-words="${name}"]`).content.textContent.trim()
    .replace(/\{(\w+)\}/g, (_, blank) => values[blank] ?? "");
