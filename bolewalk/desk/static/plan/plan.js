// @ts-check
/** The site plan: drawn, moved and judged as it moves. */

import { send } from "../desk.js";
import { corners, geometryFrom, one, shapeOf } from "./dom.js";
import { patterns } from "./hatch.js";
import { markOf } from "./marks.js";
import { treePanel, trialPanel, workPanel } from "./panel.js";
import { groundStyles, nameStyles, trunkStyles, workStyles } from "./styles.js";

const sheet = one("#sheet");
const host = one("#plan");
const api = String(sheet.dataset.api);
const suffix = sheet.dataset.plan ? `?plan=${sheet.dataset.plan}` : "";
const unit = String(sheet.dataset.unit);
const geojson = new ol.format.GeoJSON();

/** The plan as the desk last gave it. @type {any} */
let plan = null;
/** Something moved and not kept yet. @type {{feature: any, before: any, footprint: any} | null} */
let trial = null;
/** Counts states of the plan, so that a late answer about an earlier one is dropped. */
let state = 0;

/** @type {import("./styles.js").Look} */
const look = {
  shown: {},
  selected: "",
  inks: {},
  hatches: {},
  ratio: window.devicePixelRatio || 1,
};
const boxes = /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll("[data-show]"));
for (const box of boxes) look.shown[String(box.dataset.show)] = box.checked;

const works = new ol.source.Vector();
const trees = new ol.source.Vector();
const layer = (/** @type {any} */ source, /** @type {any} */ style, options = {}) =>
  new ol.layer.Vector({ source, style, updateWhileAnimating: true, updateWhileInteracting: true, ...options });
const isExisting = (/** @type {any} */ f) => f.get("work").phase === "existing";
const layers = [
  layer(works, (/** @type {any} */ f, /** @type {number} */ r) => (isExisting(f) ? workStyles(f, look, r) : [])),
  layer(trees, (/** @type {any} */ f, /** @type {number} */ r) => groundStyles(f, r, look), { className: "ground" }),
  layer(works, (/** @type {any} */ f, /** @type {number} */ r) => (isExisting(f) ? [] : workStyles(f, look, r))),
  layer(trees, (/** @type {any} */ f, /** @type {number} */ r) => trunkStyles(f, r, look)),
  layer(trees, (/** @type {any} */ f, /** @type {number} */ r) => nameStyles(f, r, look), { declutter: true }),
];
const ground = layers[1];

const view = new ol.View({
  projection: new ol.proj.Projection({ code: "survey", units: "m", extent: [-1e7, -1e7, 1e7, 1e7] }),
  center: [0, 0],
  resolution: 1,
  enableRotation: false,
  showFullExtent: true,
});
const map = new ol.Map({
  target: host,
  view,
  layers,
  controls: [],
  keyboardEventTarget: document.createElement("div"),
});
// For tests and for a curious reader of the console; nothing in the desk relies on it.
/** @type {any} */ (host).map = map;

function redraw() {
  for (const l of layers) l.changed();
}

// --- the plan as it stands ------------------------------------------------------------------------

/** @param {any} given */
function apply(given) {
  plan = given;
  state += 1;
  trial = null;
  look.inks = plan.inks;
  look.hatches = plan.hatches;
  works.clear();
  for (const work of plan.works) {
    const feature = new ol.Feature(geojson.readGeometry(work.geometry));
    feature.setId(`work:${work.id}`);
    feature.setProperties({ work, footprint: work.footprint });
    works.addFeature(feature);
  }
  trees.clear();
  for (const tree of plan.trees) applyTree(tree);
  showSelected();
  hatchLegend();
  void settle(state);
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

/** Try the open facts, batch by batch. @param {number} mine */
async function settle(mine) {
  const note = one("#pending");
  for (;;) {
    const open = plan.trees.filter((/** @type {any} */ t) => t.pending).map((/** @type {any} */ t) => t.id);
    note.hidden = open.length === 0;
    if (open.length === 0) break;
    let answer;
    try {
      answer = await send(`${api}/settle${suffix}`, { body: { trees: open.slice(0, 40) } });
    } catch {
      return;
    }
    if (mine !== state || trial || answer.trees.length === 0) return;
    for (const tree of answer.trees) {
      plan.trees[plan.trees.findIndex((/** @type {any} */ t) => t.id === tree.id)] = tree;
      applyTree(tree);
    }
    if (look.selected.startsWith("tree:") && !host.closest("#sheet")?.querySelector("#selected-body form :focus")) showSelected();
    redraw();
  }
  document.body.dispatchEvent(new CustomEvent("settled"));
}

async function reload() {
  apply(await send(`${api}/plan${suffix}`));
}

// --- what is selected ------------------------------------------------------------------------------

/** @param {string} id "tree:T1", "work:W3" or "" */
function select(id) {
  if (trial && id !== look.selected) putBack();
  look.selected = id;
  stopShaping();
  showSelected();
  redraw();
}

function treeOf(/** @type {string} */ id) {
  return plan.trees.find((/** @type {any} */ t) => `tree:${t.id}` === id);
}

function workOf(/** @type {string} */ id) {
  return plan.works.find((/** @type {any} */ w) => `work:${w.id}` === id);
}

function showSelected() {
  for (const element of document.querySelectorAll("[data-tree], [data-work]")) {
    const mine = element instanceof HTMLElement && (element.dataset.tree ? `tree:${element.dataset.tree}` : `work:${element.dataset.work}`);
    if (mine === look.selected) element.setAttribute("aria-selected", "true");
    else element.removeAttribute("aria-selected");
  }
  const body = one("#selected-body");
  const tree = treeOf(look.selected);
  const work = workOf(look.selected);
  one("#selected").classList.toggle("some", Boolean(tree || work));
  if (tree) {
    body.replaceChildren(...treePanel(tree, { root: String(sheet.dataset.root), suffix, unit, place: (x, y) => void placeTree(tree, Number(x), Number(y)), put: () => putTree(tree) }));
  } else if (work) {
    body.replaceChildren(...workPanel(work, {
      choices: plan.choices, unit, variant: plan.variant,
      save: (properties, typedCorners) => void saveWork(work, properties, typedCorners),
      remove: () => void removeWork(work),
      shape: () => startShaping(),
    }));
  } else {
    const p = document.createElement("p");
    p.className = "aside";
    p.textContent = "Nothing. Choose a tree or a work, on the plan or in the lists below.";
    body.replaceChildren(p);
  }
}

/** @param {string} words */
function sayHere(words) {
  const p = document.createElement("p");
  p.className = "say";
  p.textContent = words;
  one("#selected-body").prepend(p);
}

map.on("click", (/** @type {any} */ event) => {
  if (drawing) return;
  const hit = map.forEachFeatureAtPixel(event.pixel, (/** @type {any} */ f) => f, {
    hitTolerance: 5,
    layerFilter: (/** @type {any} */ l) => l !== ground,
  });
  select(hit ? hit.getId() : "");
});
map.on("pointermove", (/** @type {any} */ event) => {
  const [x, y] = event.coordinate;
  one("#coordinate").textContent = `east ${x.toFixed(1)}, north ${y.toFixed(1)} ${unit}`;
});
document.addEventListener("click", (event) => {
  const button = event.target instanceof Element ? event.target.closest(".pick") : null;
  const holder = button?.closest("[data-tree], [data-work]");
  if (!(holder instanceof HTMLElement)) return;
  const id = holder.dataset.tree ? `tree:${holder.dataset.tree}` : `work:${holder.dataset.work}`;
  select(id);
  bringIn(id);
});

/** @param {string} id */
function bringIn(id) {
  const feature = (id.startsWith("tree:") ? trees : works).getFeatureById(id);
  if (!feature) return;
  const extent = feature.getGeometry().getExtent();
  const centre = ol.extent.getCenter(extent);
  if (!ol.extent.containsCoordinate(view.calculateExtent(map.getSize()), centre)) view.setCenter(centre);
}

// --- moving ----------------------------------------------------------------------------------------

/** @param {any} geometry */
function asGeojson(geometry) {
  return geojson.writeGeometryObject(geometry, { decimals: 3 });
}

let busy = false;
/** @type {any} */
let waiting = null;
/** @type {Set<string>} */
let touched = new Set();

/** Ask for the verdicts of what is being moved; only the newest question waits. @param {any} body */
async function live(body) {
  waiting = body;
  if (busy) return;
  busy = true;
  try {
    while (waiting) {
      const asked = waiting;
      const mine = state;
      waiting = null;
      const answer = await send(`${api}/drag${suffix}`, { body: asked });
      if (mine === state) showLive(answer.trees);
    }
  } catch (error) {
    waiting = null;
    if (/** @type {any} */ (error).status !== 422) sayHere(String(/** @type {Error} */ (error).message));
  } finally {
    busy = false;
  }
}

/** @param {any[]} changed */
function showLive(changed) {
  const now = new Set(changed.map((t) => t.id));
  for (const id of touched) {
    if (!now.has(id)) {
      row(treeOf(`tree:${id}`));
      const feature = trees.getFeatureById(`tree:${id}`);
      if (feature) feature.set("tree", treeOf(`tree:${id}`));
    }
  }
  for (const tr of document.querySelectorAll("#verdicts tr.judged")) tr.classList.remove("judged");
  for (const t of changed) {
    const known = treeOf(`tree:${t.id}`);
    const merged = { ...known, ...t };
    row(merged);
    document.querySelector(`#verdicts tr[data-tree="${CSS.escape(t.id)}"]`)?.classList.add("judged");
    const feature = trees.getFeatureById(`tree:${t.id}`);
    if (feature) feature.setProperties({ tree: merged, moved: true });
  }
  touched = now;
  redraw();
}

/** @param {any} feature */
function startTrial(feature) {
  if (trial && trial.feature === feature) return;
  if (trial) putBack();
  trial = { feature, before: feature.getGeometry().clone(), footprint: feature.get("footprint") };
}

/** @param {any} feature @param {number} dx @param {number} dy */
function shiftFootprint(feature, dx, dy) {
  const before = trial?.footprint;
  if (!before) return;
  feature.set("footprint", before.map((/** @type {any} */ polygon) => polygon.map((/** @type {any} */ ring) => ring.map((/** @type {number[]} */ p) => [p[0] + dx, p[1] + dy]))));
}

function moved() {
  if (!trial) return;
  const { feature, before } = trial;
  const from = before.getExtent();
  const to = feature.getGeometry().getExtent();
  shiftFootprint(feature, to[0] - from[0], to[1] - from[1]);
  const id = feature.getId();
  if (id.startsWith("tree:")) {
    feature.set("moved", true);
    void live({ tree: id.slice(5), at: feature.getGeometry().getCoordinates() });
  } else void live({ work: id.slice(5), geometry: asGeojson(feature.getGeometry()) });
}

function putBack() {
  if (!trial) return;
  const { feature, before, footprint } = trial;
  trial = null;
  state += 1;
  waiting = null;
  feature.setGeometry(before);
  feature.setProperties({ footprint, moved: false });
  showLive([]);
  showSelected();
  void settle(state);
}

/** @param {() => Promise<any>} act */
async function keeping(act) {
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

async function keepTrial() {
  if (!trial) return;
  const { feature } = trial;
  const id = feature.getId();
  if (id.startsWith("tree:")) {
    const tree = treeOf(id);
    const at = feature.getGeometry().getCoordinates();
    await keeping(() => send(`${api}/trees/${encodeURIComponent(tree.id)}/place${suffix}`, { method: "PUT", body: { version: tree.version, at } }));
    return;
  }
  const work = workOf(id);
  const geometry = asGeojson(feature.getGeometry());
  if (work.key !== null) {
    await keeping(() => send(`${api}/works/${encodeURIComponent(work.key)}${suffix}`, { method: "PUT", body: { version: work.version, geometry } }));
  } else if (plan.variant) {
    await keeping(() => send(`${api}/works${suffix}`, { body: { work: work.id, geometry } }));
  } else {
    try {
      const made = await send(`${api}/copies`, { body: { name: `${work.name || work.id} moved`, moved: { [work.id]: geometry } } });
      location.assign(`${sheet.dataset.root}/site?plan=${encodeURIComponent(made.plan)}`);
    } catch (error) {
      sayHere(/** @type {Error} */ (error).message);
    }
  }
}

/** Offer what was moved: kept at once where it is the survey's own, asked where it is a drawing's. */
function offer() {
  if (!trial) return;
  const id = trial.feature.getId();
  const work = workOf(id);
  const own = !work || work.key !== null || plan.variant;
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
    if (drawing || shaping) return false;
    const id = feature.getId();
    return id === look.selected || (id.startsWith("work:") && feature.get("work").kind === "pile");
  },
});
translate.on("translatestart", (/** @type {any} */ event) => {
  const feature = event.features.item(0);
  if (look.selected !== feature.getId()) select(feature.getId());
  startTrial(feature);
});
translate.on("translating", moved);
translate.on("translateend", () => {
  if (!trial) return;
  const id = trial.feature.getId();
  const work = workOf(id);
  if (!work || work.key !== null) void keepTrial();
  else offer();
});
map.addInteraction(translate);

/** @param {number} dx @param {number} dy */
function step(dx, dy) {
  const feature = (look.selected.startsWith("tree:") ? trees : works).getFeatureById(look.selected);
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
  const feature = works.getFeatureById(look.selected);
  if (!feature) return;
  shaping = new ol.interaction.Modify({ features: new ol.Collection([feature]), pixelTolerance: 12 });
  shaping.on("modifystart", () => startTrial(feature));
  feature.getGeometry().on("change", () => {
    if (trial && shaping) {
      feature.set("footprint", null);
      void live({ work: feature.getId().slice(5), geometry: asGeojson(feature.getGeometry()) });
    }
  });
  shaping.on("modifyend", () => void keepTrial());
  map.addInteraction(shaping);
  sayHere("Drag its corners on the plan.");
}

function stopShaping() {
  if (shaping) map.removeInteraction(shaping);
  shaping = null;
}

// --- trees -----------------------------------------------------------------------------------------

/** @param {any} tree @param {number} x @param {number} y */
async function placeTree(tree, x, y) {
  if (!Number.isFinite(x) || !Number.isFinite(y)) {
    sayHere("East and north are numbers.");
    return;
  }
  await keeping(() => send(`${api}/trees/${encodeURIComponent(tree.id)}/place${suffix}`, { method: "PUT", body: { version: tree.version, at: [x, y] } }));
}

/** @param {any} tree */
function putTree(tree) {
  sayHere(`Click where ${tree.id} stands.`);
  host.classList.add("drawing");
  drawing = true;
  map.once("singleclick", (/** @type {any} */ event) => {
    host.classList.remove("drawing");
    drawing = null;
    void placeTree(tree, event.coordinate[0], event.coordinate[1]);
  });
}

// --- drawing works ---------------------------------------------------------------------------------

/** @type {any} */
let drawing = null;
const form = /** @type {HTMLFormElement} */ (one("#draw"));

/** @returns {Record<string, string>} */
function drawnProperties() {
  /** @type {Record<string, string>} */
  const told = {};
  for (const [name, value] of new FormData(form)) {
    if (name !== "corners" && String(value).trim()) told[name] = String(value).trim();
  }
  return told;
}

/** @param {string} words */
function sayDraw(words) {
  one("#draw-say").textContent = words;
}

function startDrawing() {
  stopDrawing();
  const kind = drawnProperties().kind;
  drawing = new ol.interaction.Draw({ type: shapeOf(kind), stopClick: true });
  drawing.on("drawstart", (/** @type {any} */ event) => {
    event.feature.getGeometry().on("change", () => {
      const geometry = asGeojson(event.feature.getGeometry());
      if (enough(geometry)) void live({ properties: drawnProperties(), geometry });
    });
  });
  drawing.on("drawend", (/** @type {any} */ event) => {
    const geometry = asGeojson(event.feature.getGeometry());
    // The map still handles the click that ended the drawing.
    setTimeout(() => { stopDrawing(); void addWork(geometry); }, 0);
  });
  map.addInteraction(drawing);
  host.classList.add("drawing");
  host.focus();
  sayDraw(shapeOf(kind) === "Point" ? "Click where it stands." : "Click each corner; click the last one twice.");
}

/** @param {any} geometry */
function enough(geometry) {
  if (geometry.type === "Point") return true;
  const points = geometry.type === "Polygon" ? geometry.coordinates[0] : geometry.coordinates;
  const last = points[points.length - 1];
  const before = points[points.length - 2];
  return points.length >= (geometry.type === "Polygon" ? 4 : 2) && (!before || last[0] !== before[0] || last[1] !== before[1]);
}

function stopDrawing() {
  if (drawing && drawing !== true) map.removeInteraction(drawing);
  drawing = null;
  host.classList.remove("drawing");
  sayDraw("");
}

/** @param {any} geometry */
async function addWork(geometry) {
  try {
    const answer = await send(`${api}/works${suffix}`, { body: { properties: drawnProperties(), geometry } });
    apply(answer);
    const made = plan.works.find((/** @type {any} */ w) => w.key === answer.changed[0]);
    form.elements.namedItem("corners") instanceof HTMLTextAreaElement && (/** @type {HTMLTextAreaElement} */ (form.elements.namedItem("corners")).value = "");
    listWorks();
    if (made) select(`work:${made.id}`);
    sayDraw(made ? `${made.name || made.id} is on the plan.` : "");
  } catch (error) {
    sayDraw(/** @type {Error} */ (error).message);
    showLive([]);
  }
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  const field = /** @type {HTMLTextAreaElement} */ (form.elements.namedItem("corners"));
  const points = corners(field.value);
  const geometry = points && geometryFrom(drawnProperties().kind, points);
  field.setAttribute("aria-invalid", geometry ? "false" : "true");
  if (!geometry) {
    sayDraw("Give one “east, north” pair of numbers a line: one for a pile, two or more for a line, three or more for an area.");
    field.focus();
    return;
  }
  void addWork(geometry);
});

/** @param {any} work @param {Record<string, string>} properties @param {string} typedCorners */
async function saveWork(work, properties, typedCorners) {
  const points = typedCorners ? corners(typedCorners) : null;
  const geometry = points ? geometryFrom(properties.kind, points) : null;
  if (typedCorners && !geometry) {
    sayHere("The corners are not pairs of numbers, or too few for this kind.");
    return;
  }
  const body = { version: work.version, properties, ...(geometry ? { geometry } : {}) };
  if (await keeping(() => send(`${api}/works/${encodeURIComponent(work.key)}${suffix}`, { method: "PUT", body }))) listWorks();
}

/** @param {any} work */
async function removeWork(work) {
  if (await keeping(() => send(`${api}/works/${encodeURIComponent(work.key)}${suffix}`, { method: "DELETE", body: { version: work.version } }))) {
    select("");
    listWorks();
  }
}

function listWorks() {
  const list = document.querySelector("#works");
  if (!list) {
    location.reload();
    return;
  }
  list.replaceChildren(...plan.works.map((/** @type {any} */ work) => {
    const li = document.createElement("li");
    li.dataset.work = work.id;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "pick";
    button.textContent = work.name || work.id;
    const later = document.createElement("span");
    later.className = "later";
    later.textContent = ` ${work.kind}, ${work.phase}`;
    li.append(button, later);
    return li;
  }));
}

// --- tools and keys --------------------------------------------------------------------------------

function whole() {
  if (plan.extent) view.fit(plan.extent, { padding: [28, 28, 28, 28], size: map.getSize() });
}

/** @param {"undo" | "redo"} which */
async function again(which) {
  try {
    const answer = await send(`${api}/${which}`, { body: {} });
    await reload();
    listWorks();
    if (answer.say) sayHere(answer.say);
  } catch (error) {
    sayHere(/** @type {Error} */ (error).message);
  }
}

/** @type {Record<string, () => void>} */
const doing = {
  whole,
  in: () => view.adjustZoom(0.7),
  out: () => view.adjustZoom(-0.7),
  undo: () => void again("undo"),
  redo: () => void again("redo"),
  draw: startDrawing,
};
for (const button of document.querySelectorAll("[data-do]")) {
  button.addEventListener("click", () => doing[String(/** @type {HTMLElement} */ (button).dataset.do)]());
}
for (const box of boxes) {
  box.addEventListener("change", () => {
    look.shown[String(box.dataset.show)] = box.checked;
    redraw();
  });
}

/** @param {any[]} list @param {string} kind @param {number} by */
function next(list, kind, by) {
  if (!list.length) return;
  const at = list.findIndex((t) => `${kind}:${t.id}` === look.selected);
  const to = list[(at + by + list.length) % list.length] ?? list[0];
  select(`${kind}:${to.id}`);
  bringIn(look.selected);
}

host.addEventListener("keydown", (event) => {
  const far = (unit === "ft" ? 1 : 0.25) * (event.shiftKey ? 10 : 1);
  /** @type {Record<string, () => void>} */
  const keys = {
    ArrowUp: () => step(0, far),
    ArrowDown: () => step(0, -far),
    ArrowLeft: () => step(-far, 0),
    ArrowRight: () => step(far, 0),
    Enter: () => void keepTrial(),
    Escape: () => { if (drawing) stopDrawing(); else if (trial) putBack(); else select(""); showLive([]); },
    "+": doing.in,
    "=": doing.in,
    "-": doing.out,
    n: () => next(plan.trees, "tree", 1),
    p: () => next(plan.trees, "tree", -1),
    w: () => next(plan.works, "work", 1),
  };
  if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z") {
    event.preventDefault();
    void again(event.shiftKey ? "redo" : "undo");
    return;
  }
  const act = keys[event.key] ?? keys[event.key.toLowerCase()];
  if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  act();
});

one("#copy").addEventListener("submit", (event) => {
  event.preventDefault();
  const name = String(new FormData(/** @type {HTMLFormElement} */ (event.target)).get("name"));
  send(`${api}/copies${suffix}`, { body: { name, moved: {} } })
    .then((made) => location.assign(`${sheet.dataset.root}/site?plan=${encodeURIComponent(made.plan)}`))
    .catch((error) => sayHere(error.message));
});

for (const button of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-copy]"))) {
  button.addEventListener("click", () => {
    const address = `${api}/copies/${encodeURIComponent(plan.variant)}`;
    const adopt = button.dataset.copy === "adopt";
    send(adopt ? `${address}/adopt` : address, { method: adopt ? "POST" : "DELETE", body: {} })
      .then(() => location.assign(`${sheet.dataset.root}/site`))
      .catch((error) => sayHere(error.message));
  });
}

function hatchLegend() {
  for (const canvas of /** @type {NodeListOf<HTMLCanvasElement>} */ (document.querySelectorAll("canvas.hatch"))) {
    const c = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
    const kind = String(canvas.dataset.kind);
    const phase = String(canvas.dataset.phase);
    const ink = phase === "existing" ? look.inks.grey : look.inks.black;
    const hatch = look.hatches[kind];
    c.clearRect(0, 0, canvas.width, canvas.height);
    c.strokeStyle = ink;
    c.lineWidth = phase === "proposed" ? 1.8 : 1.2;
    c.setLineDash(phase === "possible later" ? [6, 4] : []);
    if (hatch) {
      for (const p of patterns(hatch, ink, phase === "possible later" ? 1.8 : 1, 1)) {
        c.fillStyle = p;
        c.fillRect(1, 1, canvas.width - 2, canvas.height - 2);
      }
      c.strokeRect(1, 1, canvas.width - 2, canvas.height - 2);
    } else {
      c.beginPath();
      c.moveTo(0, 8);
      c.lineTo(44, 8);
      c.stroke();
    }
  }
}

view.on("change:resolution", () => {
  const resolution = view.getResolution();
  const target = 110 * resolution;
  const power = 10 ** Math.floor(Math.log10(target));
  const length = [5, 2.5, 2, 1].map((s) => s * power).find((l) => l <= target) ?? power;
  const bar = /** @type {HTMLElement} */ (document.querySelector("#scale .bar"));
  bar.style.width = `${length / resolution}px`;
  /** @type {HTMLElement} */ (document.querySelector("#scale .text")).textContent = `${length} ${unit}`;
});

await reload();
whole();
const wanted = new URLSearchParams(location.search).get("tree");
if (wanted && treeOf(`tree:${wanted}`)) {
  select(`tree:${wanted}`);
  bringIn(look.selected);
}
host.dataset.ready = "true";
window.addEventListener("resize", () => map.updateSize());
// On paper the plan keeps the shape it has on the screen and is scaled as a whole.
window.addEventListener("beforeprint", () => {
  host.style.aspectRatio = `${host.clientWidth} / ${host.clientHeight}`;
});
window.addEventListener("afterprint", () => {
  host.style.aspectRatio = "";
});
