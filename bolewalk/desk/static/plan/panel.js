// @ts-check
/** What stands beside the plan about the one thing that is selected. */

import { h, typed } from "./dom.js";
import { markOf } from "./marks.js";

/** Reasons and conditions that stand open. */
const SHOWN = 3;
const FIELDS = ["label", "depth", "width", "diameter", "low", "high", "clearance", "offset"];
const WORDS = ["kind", "phase", "made", "founded", "basis", "present"];

/**
 * @param {any} tree
 * @param {{root: string, suffix: string, unit: string, place: (x: string, y: string) => void, put: () => void}} on
 * @returns {Node[]}
 */
export function treePanel(tree, on) {
  const x = /** @type {HTMLInputElement} */ (h("input", { name: "x", inputmode: "decimal", autocomplete: "off", value: tree.at ? tree.at[0] : "" }));
  const y = /** @type {HTMLInputElement} */ (h("input", { name: "y", inputmode: "decimal", autocomplete: "off", value: tree.at ? tree.at[1] : "" }));
  return [
    h("p", {}, h("b", {}, tree.id), " ", tree.name),
    h("p", { class: "verdict" }, h("span", { class: "mark" }, markOf(tree.mark), tree.at ? tree.verdict : "not located"),
      tree.later ? h("span", { class: "later" }, ` later: ${tree.later}`) : null,
      tree.severed === null ? null : h("span", { class: "later" }, ` ${tree.severed.toFixed(1)} % severed`)),
    list(tree.because.slice(0, SHOWN)),
    folded("More reasons", tree.because.slice(SHOWN), false),
    folded("Conditions", tree.conditions, tree.conditions.length <= SHOWN),
    h("form", { class: "line", onsubmit: (/** @type {Event} */ e) => { e.preventDefault(); on.place(x.value, y.value); } },
      h("label", {}, "East ", x), h("label", {}, "North ", y), h("button", {}, tree.at ? "Move" : "Place"),
      tree.at ? null : h("button", { type: "button", onclick: on.put }, "Place on the plan")),
    h("p", {}, h("a", { href: `${on.root}/trees/${encodeURIComponent(tree.id)}${on.suffix}` }, `All about ${tree.id}`)),
  ].filter((n) => n !== null);
}

/**
 * A list under a heading that opens it: what follows on the panel stays in reach.
 * @param {string} heading
 * @param {string[]} texts
 * @param {boolean} open
 */
function folded(heading, texts, open) {
  return texts.length ? h("details", { open }, h("summary", {}, `${heading} (${texts.length})`), list(texts) ?? "") : null;
}

/**
 * @param {string[]} texts
 */
function list(texts) {
  return texts.length ? h("ul", {}, ...texts.map((t) => h("li", {}, t))) : null;
}

/**
 * @param {any} work
 * @param {{choices: Record<string, string[]>, unit: string, variant: string, save: (properties: Record<string, string>, corners: string) => void, remove: () => void, shape: () => void}} on
 * @returns {Node[]}
 */
export function workPanel(work, on) {
  const head = h("p", {}, h("b", {}, work.name || work.id), h("span", { class: "later" }, ` ${work.kind}, ${work.phase}`));
  if (work.key === null) {
    return [head, h("p", { class: "aside" },
      `Stands in ${work.drawing || "a drawing"}. It can be tried elsewhere: drag it, or move it with the arrow keys. `,
      on.variant ? "Kept, it leaves the drawing in this what-if copy only." : "Kept, it becomes a what-if copy; the drawing stays as it is.")];
  }
  const form = /** @type {HTMLFormElement} */ (h("form", { class: "fields" }));
  for (const name of WORDS) {
    const now = work.properties[name] ?? "";
    const options = on.choices[name].map((c) => h("option", { value: c, selected: c === now }, c));
    if (name !== "kind") options.unshift(h("option", { value: "", selected: now === "" }, "not told"));
    form.append(h("label", {}, title(name), h("select", { name }, ...options)));
  }
  for (const name of FIELDS) {
    const unit = name === "label" ? "" : `, ${on.unit}`;
    form.append(h("label", { class: name === "label" ? "wide" : null }, title(name) + unit,
      h("input", { name, autocomplete: "off", value: work.properties[name] ?? "" })));
  }
  const corners = typed(work.geometry);
  if (corners) {
    form.append(h("label", { class: "wide" }, "Corners, one “east, north” a line",
      h("textarea", { name: "corners", rows: Math.min(6, corners.split("\n").length + 1), class: "num" }, corners)));
  }
  form.append(h("p", { class: "wide" }, h("button", { class: "first" }, "Keep"), " ",
    work.geometry.type === "Point" ? null : h("button", { type: "button", onclick: on.shape }, "Change its shape"), " ",
    h("button", { type: "button", onclick: on.remove }, "Take out")));
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    /** @type {Record<string, string>} */
    const properties = { ...work.properties };
    for (const [name, value] of new FormData(form)) {
      if (name === "corners") continue;
      if (String(value).trim()) properties[name] = String(value).trim();
      else delete properties[name];
    }
    on.save(properties, corners ? String(new FormData(form).get("corners")) : "");
  });
  return [head, form];
}

/** @param {string} name */
function title(name) {
  return { made: "Made by", founded: "Founded on", low: "Underside", high: "Top", basis: "Position", offset: "May be off", present: "There at all", clearance: "Kept free" }[name]
    ?? name.charAt(0).toUpperCase() + name.slice(1);
}

/**
 * @param {string} words
 * @param {{keep: () => void, back: () => void, keepWords: string}} on
 * @returns {HTMLElement}
 */
export function trialPanel(words, on) {
  return h("div", { class: "trial" }, h("p", { class: "say" }, words),
    h("p", {}, h("button", { type: "button", class: "first", onclick: on.keep }, on.keepWords), " ",
      h("button", { type: "button", onclick: on.back }, "Put back")));
}
