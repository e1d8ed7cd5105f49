// @ts-check
/** Moving trees and works: judged while they move, kept or put back. */

import { send } from "../desk.js";
import { asGeojson, featureOf, ground, layers, map, trees, view, works } from "./canvas.js";
import { acts, select, showSelected } from "./choosing.js";
import { one } from "./dom.js";
import { trialPanel } from "./panel.js";
import { api, host, now, root, sayHere, suffix, treeOf, workOf } from "./sheet.js";
import { apply, reload, settle, showLive } from "./verdicts.js";

let busy = false;
/** @type {any} */
let waiting = null;

/** Ask for the verdicts of what is being moved; only the newest question waits. @param {any} body */
export async function live(body) {
  waiting = body;
  if (busy) return;
  busy = true;
  try {
    while (waiting) {
      const asked = waiting;
      const mine = now.count;
      waiting = null;
      const answer = await send(`${api}/drag${suffix}`, { body: asked, patient: false });
      if (mine === now.count) showLive(answer.trees);
    }
  } catch (error) {
    waiting = null;
    if (/** @type {any} */ (error).status !== 422) sayHere(String(/** @type {Error} */ (error).message));
  } finally {
    busy = false;
  }
}

/** @param {any} feature @param {{unplaced?: boolean}} [options] */
function startTrial(feature, options = {}) {
  if (now.trial?.feature === feature) return;
  if (now.trial) putBack();
  const before = options.unplaced ? null : feature.getGeometry().clone();
  now.trial = { feature, before, footprint: feature.get("footprint") };
}

/** @param {any} feature @param {number} dx @param {number} dy */
function shiftFootprint(feature, dx, dy) {
  const before = now.trial?.footprint;
  if (!before) return;
  feature.set("footprint", before.map((/** @type {any} */ polygon) => polygon.map((/** @type {any} */ ring) => ring.map((/** @type {number[]} */ p) => [p[0] + dx, p[1] + dy]))));
}

function moved() {
  if (!now.trial) return;
  const { feature, before } = now.trial;
  const id = feature.getId();
  if (id.startsWith("tree:")) {
    feature.set("moved", true);
    void live({ tree: id.slice(5), at: feature.getGeometry().getCoordinates() });
    return;
  }
  const from = before.getExtent();
  const to = feature.getGeometry().getExtent();
  shiftFootprint(feature, to[0] - from[0], to[1] - from[1]);
  void live({ work: id.slice(5), geometry: asGeojson(feature.getGeometry()) });
}

export function putBack() {
  if (!now.trial) return;
  const { feature, before, footprint } = now.trial;
  now.trial = null;
  now.count += 1;
  waiting = null;
  if (before) {
    feature.setGeometry(before);
    feature.setProperties({ footprint, moved: false });
  } else trees.removeFeature(feature);
  showLive([]);
  showSelected();
  void settle(now.count);
}

/**
 * Make a change and take the plan it gives over.
 * @param {() => Promise<any>} act
 * @returns {Promise<boolean>}
 */
export async function keeping(act) {
  try {
    waiting = null;
    const answer = await act();
    if (answer) apply(answer);
    return true;
  } catch (error) {
    const problem = /** @type {any} */ (error);
    if (problem.status === 409) {
      await reload();
      sayHere(`${problem.message} The plan shows the newest state.`);
    } else if (problem.status) {
      putBack();
      sayHere(problem.message);
    }
    return false;
  }
}

export async function keepTrial() {
  if (!now.trial) return;
  const { feature } = now.trial;
  const id = feature.getId();
  if (id.startsWith("tree:")) {
    const [x, y] = feature.getGeometry().getCoordinates();
    await placeTree(treeOf(id), x, y);
    return;
  }
  const work = workOf(id);
  const geometry = asGeojson(feature.getGeometry());
  if (work.key !== null) {
    await keeping(() => send(`${api}/works/${encodeURIComponent(work.key)}${suffix}`, { method: "PUT", body: { version: work.version, geometry } }));
  } else if (now.plan.variant) {
    await keeping(() => send(`${api}/works${suffix}`, { body: { work: work.id, geometry } }));
  } else {
    try {
      const made = await send(`${api}/copies`, { body: { name: `${work.name || work.id} moved`, moved: { [work.id]: geometry } } });
      location.assign(`${root}/site?plan=${encodeURIComponent(made.plan)}`);
    } catch (error) {
      sayHere(/** @type {Error} */ (error).message);
    }
  }
}

/** Offer what was moved: kept at once where it is the survey's own, asked where it is a drawing's. */
function offer() {
  if (!now.trial) return;
  const work = workOf(now.trial.feature.getId());
  const own = !work || work.key !== null || now.plan.variant;
  one("#selected-body").querySelector(".trial")?.remove();
  one("#selected-body").prepend(trialPanel(
    own ? "Moved, not kept yet." : "Tried elsewhere; the drawing is as it was.",
    { keep: () => void keepTrial(), back: putBack, keepWords: own ? "Keep" : "Keep as a what-if copy" },
  ));
}

const translate = new ol.interaction.Translate({
  layers: layers.filter((l) => l !== ground),
  hitTolerance: 5,
  filter: (/** @type {any} */ feature) => {
    if (now.mode) return false;
    const id = feature.getId();
    return id === now.selected || (id.startsWith("work:") && feature.get("work").kind === "pile");
  },
});
translate.on("translatestart", (/** @type {any} */ event) => {
  const feature = event.features.item(0);
  if (now.selected !== feature.getId()) select(feature.getId());
  startTrial(feature);
});
translate.on("translating", moved);
translate.on("translateend", () => {
  if (!now.trial) return;
  const work = workOf(now.trial.feature.getId());
  if (!work || work.key !== null) void keepTrial();
  else offer();
});
map.addInteraction(translate);

/** Move what is selected, or the plan where nothing is. @param {number} dx @param {number} dy */
export function step(dx, dy) {
  const feature = featureOf(now.selected);
  if (!feature) {
    const r = view.getResolution() * 60;
    const [x, y] = view.getCenter();
    view.setCenter([x + Math.sign(dx) * r, y + Math.sign(dy) * r]);
    return;
  }
  startTrial(feature);
  feature.getGeometry().translate(dx, dy);
  moved();
  offer();
}

// --- changing a shape ------------------------------------------------------------------------------

/** @type {any} */
let shaping = null;

function startShaping() {
  stopShaping();
  const feature = works.getFeatureById(now.selected);
  if (!feature) return;
  now.mode = "shape";
  shaping = new ol.interaction.Modify({ features: new ol.Collection([feature]), pixelTolerance: 12 });
  shaping.on("modifystart", () => startTrial(feature));
  feature.getGeometry().on("change", () => {
    if (now.trial && shaping) {
      feature.set("footprint", null);
      void live({ work: feature.getId().slice(5), geometry: asGeojson(feature.getGeometry()) });
    }
  });
  shaping.on("modifyend", () => { stopShaping(); void keepTrial(); });
  map.addInteraction(shaping);
  sayHere("Drag a corner on the plan; drag a side to make a new corner. Escape leaves it.");
}

export function stopShaping() {
  if (shaping) map.removeInteraction(shaping);
  shaping = null;
  if (now.mode === "shape") now.mode = "";
}

// --- placing trees ---------------------------------------------------------------------------------

/** @param {any} tree @param {number} x @param {number} y */
export async function placeTree(tree, x, y) {
  if (!Number.isFinite(x) || !Number.isFinite(y)) {
    sayHere("East and north are numbers.");
    return;
  }
  await keeping(() => send(`${api}/trees/${encodeURIComponent(tree.id)}/place${suffix}`, { method: "PUT", body: { version: tree.version, at: [x, y] } }));
}

/**
 * Let a tree that has no place be given one: it stands in the middle of the plan until it is
 * moved there by the arrow keys, or a click says where.
 * @param {any} tree
 */
function putTree(tree) {
  const feature = new ol.Feature(new ol.geom.Point(view.getCenter()));
  feature.setId(`tree:${tree.id}`);
  feature.setProperties({ tree, moved: true });
  trees.addFeature(feature);
  startTrial(feature, { unplaced: true });
  moved();
  offer();
  sayHere(`Click where ${tree.id} stands, or move it there with the arrow keys and press Enter.`);
  now.mode = "put";
  host.classList.add("drawing");
  host.focus();
  map.once("singleclick", putHere);
}

/** @param {any} event */
function putHere(event) {
  if (now.mode !== "put" || !now.trial) return;
  stopPutting();
  now.trial.feature.getGeometry().setCoordinates(event.coordinate);
  void keepTrial();
}

export function stopPutting() {
  map.un("singleclick", putHere);
  host.classList.remove("drawing");
  if (now.mode === "put") now.mode = "";
}

acts.place = (tree, x, y) => void placeTree(tree, x, y);
acts.put = putTree;
acts.shape = startShaping;
acts.leave = () => {
  stopPutting();
  if (now.trial) putBack();
  stopShaping();
};
