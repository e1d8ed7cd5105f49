// @ts-check
/** Trees and their verdicts: as the desk gave them, better known as open facts are tried. */

import { send } from "../desk.js";
import { geojson, look, trees, works } from "./canvas.js";
import { one } from "./dom.js";
import { markOf } from "./marks.js";
import { api, now, suffix, tell, treeOf } from "./sheet.js";

/** Take a state of the plan over. @param {any} given */
export function apply(given) {
  now.plan = given;
  now.count += 1;
  now.trial = null;
  look.inks = given.inks;
  look.hatches = given.hatches;
  works.clear();
  for (const work of given.works) {
    const feature = new ol.Feature(geojson.readGeometry(work.geometry));
    feature.setId(`work:${work.id}`);
    feature.setProperties({ work, footprint: work.footprint });
    works.addFeature(feature);
  }
  trees.clear();
  for (const tree of given.trees) applyTree(tree);
  tell("given");
  void settle(now.count);
}

/** Ask for the newest state. */
export async function reload() {
  apply(await send(`${api}/plan${suffix}`));
}

/** @param {any} tree */
function applyTree(tree) {
  const id = `tree:${tree.id}`;
  let feature = trees.getFeatureById(id);
  if (tree.at) {
    if (!feature) {
      feature = new ol.Feature();
      feature.setId(id);
      feature.set("tree", tree);
      feature.setGeometry(new ol.geom.Point(tree.at));
      trees.addFeature(feature);
    }
    feature.setProperties({ tree, moved: false });
    feature.setGeometry(new ol.geom.Point(tree.at));
  } else if (feature) trees.removeFeature(feature);
  row(tree);
}

/** @param {any} tree */
function row(tree) {
  const tr = document.querySelector(`#verdicts tr[data-tree="${CSS.escape(tree.id)}"]`);
  if (!tr) return;
  const mark = /** @type {HTMLElement} */ (tr.querySelector(".mark"));
  const word = document.createElement("span");
  word.className = "word";
  word.textContent = tree.at === null ? "not located" : tree.verdict;
  mark.replaceChildren(markOf(tree.mark), word);
  /** @type {HTMLElement} */ (tr.querySelector(".later.after")).textContent = tree.later ? `later: ${tree.later}` : "";
  /** @type {HTMLElement} */ (tr.querySelector(".severed")).textContent = tree.severed === null ? "" : tree.severed.toFixed(1);
}

/** Try the open facts, batch by batch. @param {number} mine the state they belong to */
export async function settle(mine) {
  const note = one("#pending");
  for (;;) {
    const open = now.plan.trees.filter((/** @type {any} */ t) => t.pending).map((/** @type {any} */ t) => t.id);
    note.hidden = open.length === 0;
    if (open.length === 0) break;
    let answer;
    try {
      answer = await send(`${api}/settle${suffix}`, { body: { trees: open.slice(0, 40) }, patient: false });
    } catch {
      return;
    }
    if (mine !== now.count || now.trial || answer.trees.length === 0) return;
    for (const tree of answer.trees) {
      now.plan.trees[now.plan.trees.findIndex((/** @type {any} */ t) => t.id === tree.id)] = tree;
      applyTree(tree);
    }
    tell("tree");
    tell("redraw");
  }
  document.body.dispatchEvent(new CustomEvent("settled"));
}

/** The trees judged while something moves. @type {Set<string>} */
let judged = new Set();

/** Show verdicts of a move that is not kept; those judged before and not now go back. @param {any[]} changed */
export function showLive(changed) {
  const fresh = new Set(changed.map((t) => t.id));
  for (const id of judged) {
    if (fresh.has(id)) continue;
    const tree = treeOf(`tree:${id}`);
    if (tree) row(tree);
    trees.getFeatureById(`tree:${id}`)?.set("tree", tree);
  }
  for (const tr of document.querySelectorAll("#verdicts tr.judged")) tr.classList.remove("judged");
  for (const t of changed) {
    const merged = { ...treeOf(`tree:${t.id}`), ...t };
    row(merged);
    document.querySelector(`#verdicts tr[data-tree="${CSS.escape(t.id)}"]`)?.classList.add("judged");
    trees.getFeatureById(`tree:${t.id}`)?.setProperties({ tree: merged, moved: true });
  }
  judged = fresh;
  tell("redraw");
}
