// @ts-check
/** The small marks beside a verdict's word, copied from those the page was printed with. */

/** @type {Map<string, SVGElement>} */
const known = new Map();

const order = ["keep", "keep_if", "redesign", "undecided", "none", "remove"];
document.querySelectorAll(".legend .mark svg").forEach((svg, i) => {
  if (i < order.length) known.set(order[i], /** @type {SVGElement} */ (svg));
});

/**
 * @param {string} mark
 * @returns {Node}
 */
export function markOf(mark) {
  const svg = known.get(mark) ?? known.get("none");
  return svg ? svg.cloneNode(true) : document.createTextNode("");
}
