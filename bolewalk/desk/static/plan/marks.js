// @ts-check
/** The small marks beside a verdict's word, copied from those the page was printed with. */

const kept = /** @type {HTMLTemplateElement | null} */ (document.getElementById("marks"));

/**
 * @param {string} mark
 * @returns {Node}
 */
export function markOf(mark) {
  const svg = kept?.content.querySelector(`[data-mark="${CSS.escape(mark)}"] svg`);
  return svg ? svg.cloneNode(true) : document.createTextNode("");
}
