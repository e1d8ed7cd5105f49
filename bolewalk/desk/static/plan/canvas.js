// @ts-check
/** The map canvas: its layers from the ground up, its view, its scale bar. */

import { one } from "./dom.js";
import { groundStyles, nameStyles, trunkStyles, workStyles } from "./styles.js";
import { host, now, tell, unit, when } from "./sheet.js";

export const geojson = new ol.format.GeoJSON();

/** @type {import("./styles.js").Look} */
export const look = { shown: {}, selected: "", inks: {}, hatches: {}, ratio: window.devicePixelRatio || 1 };

export const works = new ol.source.Vector();
export const trees = new ol.source.Vector();
const layer = (/** @type {any} */ source, /** @type {any} */ style, options = {}) =>
  new ol.layer.Vector({ source, style, updateWhileAnimating: true, updateWhileInteracting: true, ...options });
const isExisting = (/** @type {any} */ f) => f.get("work").phase === "existing";
export const ground = layer(trees, (/** @type {any} */ f, /** @type {number} */ r) => groundStyles(f, r, look), { className: "ground" });
export const layers = [
  layer(works, (/** @type {any} */ f, /** @type {number} */ r) => (isExisting(f) ? workStyles(f, look, r) : [])),
  ground,
  layer(works, (/** @type {any} */ f, /** @type {number} */ r) => (isExisting(f) ? [] : workStyles(f, look, r))),
  layer(trees, (/** @type {any} */ f, /** @type {number} */ r) => trunkStyles(f, r, look)),
  layer(trees, (/** @type {any} */ f, /** @type {number} */ r) => nameStyles(f, r, look), { declutter: true }),
];

export const view = new ol.View({
  projection: new ol.proj.Projection({ code: "survey", units: "m", extent: [-1e7, -1e7, 1e7, 1e7] }),
  center: [0, 0],
  resolution: 1,
  enableRotation: false,
  showFullExtent: true,
});
export const map = new ol.Map({
  target: host,
  view,
  layers,
  controls: [],
  keyboardEventTarget: document.createElement("div"),
});
// For tests and for a curious reader of the console; nothing in the desk relies on it.
/** @type {any} */ (host).map = map;

export function redraw() {
  for (const l of layers) l.changed();
}
when("redraw", redraw);

/** The whole site in view. */
export function whole() {
  if (now.plan.extent) view.fit(now.plan.extent, { padding: [28, 28, 28, 28], size: map.getSize() });
}

/** Bring something into view. @param {string} id "tree:T1" or "work:W1" */
export function bringIn(id) {
  const feature = featureOf(id);
  if (!feature) return;
  const centre = ol.extent.getCenter(feature.getGeometry().getExtent());
  if (!ol.extent.containsCoordinate(view.calculateExtent(map.getSize()), centre)) view.setCenter(centre);
}

/** @param {string} id */
export function featureOf(id) {
  return (id.startsWith("tree:") ? trees : works).getFeatureById(id);
}

/** @param {any} geometry */
export function asGeojson(geometry) {
  return geojson.writeGeometryObject(geometry, { decimals: 3 });
}

for (const box of /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll("[data-show]"))) {
  look.shown[String(box.dataset.show)] = box.checked;
  box.addEventListener("change", () => {
    look.shown[String(box.dataset.show)] = box.checked;
    redraw();
    tell("shown");
  });
}

map.on("pointermove", (/** @type {any} */ event) => {
  const [x, y] = event.coordinate;
  one("#coordinate").textContent = `east ${x.toFixed(1)}, north ${y.toFixed(1)} ${unit}`;
});

view.on("change:resolution", () => {
  const resolution = view.getResolution();
  const target = 110 * resolution;
  const power = 10 ** Math.floor(Math.log10(target));
  const length = [5, 2.5, 2, 1].map((s) => s * power).find((l) => l <= target) ?? power;
  one("#scale .bar").style.width = `${length / resolution}px`;
  one("#scale .text").textContent = `${length} ${unit}`;
});

window.addEventListener("resize", () => map.updateSize());
// On paper the plan keeps the shape it has on the screen and is scaled as a whole.
window.addEventListener("beforeprint", () => {
  host.style.aspectRatio = `${host.clientWidth} / ${host.clientHeight}`;
});
window.addEventListener("afterprint", () => {
  host.style.aspectRatio = "";
});
