// @ts-check
/** A picture under the plan: drawn by its corners, placed by two points. */

import { send } from "../desk.js";
import { look, map, view } from "./canvas.js";
import { one } from "./dom.js";
import { api, host, now, suffix, when } from "./sheet.js";

/** @typedef {[number, number]} Point */
/** @typedef {{file: string, url: string, title: string, width: number, height: number, corners: Point[] | null, image: HTMLImageElement}} Picture */

const form = /** @type {HTMLFormElement} */ (one("#underlay"));
const choice = /** @type {HTMLSelectElement} */ (form.elements.namedItem("file"));
const POINTS = ["first", "second"];

/** @type {Picture[]} */
let pictures = [];
/** The picture being placed, laid loosely over the view. @type {{picture: Picture, corners: Point[]} | null} */
let loose = null;
const zooming = map.getInteractions().getArray().find((/** @type {any} */ i) => i instanceof ol.interaction.DoubleClickZoom);

/** Where the cross stands that the arrow keys move. @type {Point} */
let cross = [0, 0];

/** @param {string} words */
function say(words) {
  one("#underlay-say").textContent = words;
}

/** @param {string} name @returns {HTMLInputElement} */
function field(name) {
  return /** @type {HTMLInputElement} */ (form.elements.namedItem(name));
}

// --- drawing ---------------------------------------------------------------------------------------

const source = new ol.source.ImageCanvas({
  ratio: 1,
  canvasFunction: (/** @type {number[]} */ extent, /** @type {number} */ resolution, /** @type {number} */ ratio, /** @type {number[]} */ size) => {
    const canvas = document.createElement("canvas");
    canvas.width = size[0];
    canvas.height = size[1];
    const c = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
    const k = ratio / resolution;
    const to = (/** @type {Point} */ p) => [(p[0] - extent[0]) * k, (extent[3] - p[1]) * k];
    for (const picture of pictures) {
      const corners = loose?.picture === picture ? loose.corners : picture.corners;
      if (!corners || !picture.image.complete || !picture.image.naturalWidth) continue;
      const [x0, y0] = to(corners[0]);
      const [x1, y1] = to(corners[1]);
      const [x3, y3] = to(corners[3]);
      const { width: w, height: h } = picture;
      c.setTransform((x1 - x0) / w, (y1 - y0) / w, (x3 - x0) / h, (y3 - y0) / h, x0, y0);
      c.globalAlpha = loose?.picture === picture ? 0.85 : 0.6;
      c.drawImage(picture.image, 0, 0, w, h);
    }
    return canvas;
  },
});
const layer = new ol.layer.Image({ source, zIndex: -1 });
layer.set("pick", false);
map.getLayers().insertAt(0, layer);
when("shown", () => layer.setVisible(look.shown.underlay !== false));

function redraw() {
  source.changed();
}

const marks = new ol.source.Vector();
const marked = new ol.layer.Vector({
  source: marks,
  zIndex: 20,
  style: (/** @type {any} */ feature) => new ol.style.Style({
    image: new ol.style.RegularShape({
      points: 4, radius: feature.get("cross") ? 16 : 9, radius2: 0,
      angle: feature.get("cross") ? 0 : Math.PI / 4,
      stroke: new ol.style.Stroke({ color: look.inks.accent, width: 2 }),
    }),
  }),
});
marked.set("pick", false);
map.addLayer(marked);

/** The cross that the keys move, and the points that are set. */
function showMarks() {
  marks.clear();
  if (!loose) return;
  const { corners, picture } = loose;
  const set = POINTS.map(pair).filter((p) => p !== null).map((p) => surveyAt(corners, picture, p));
  for (const at of set) marks.addFeature(new ol.Feature(new ol.geom.Point(at)));
  if (now.mode === "point") marks.addFeature(new ol.Feature({ geometry: new ol.geom.Point(cross), cross: true }));
}

/** @param {any} told what the desk gave */
function take(told) {
  const images = new Map(pictures.map((p) => [p.url, p.image]));
  pictures = told.underlays.map((/** @type {any} */ u) => {
    const image = images.get(u.url) ?? new Image();
    if (!image.src) {
      image.addEventListener("load", redraw);
      image.src = u.url;
    }
    return { ...u, image };
  });
  const chosen = choice.value;
  choice.replaceChildren(...pictures.map((p) => new Option(`${p.title || p.file}${p.corners ? "" : ", not placed yet"}`, p.file, false, p.file === chosen)));
  form.hidden = pictures.length === 0;
  one("#no-underlay").hidden = pictures.length > 0;
  redraw();
}

// --- placing by two points -------------------------------------------------------------------------

/** Where a point of the survey lies on a picture. @param {Point[]} corners @param {Picture} picture @param {Point} at @returns {Point} */
function pixelAt(corners, picture, at) {
  const [o, a, , b] = corners;
  const [ux, uy] = [(a[0] - o[0]) / picture.width, (a[1] - o[1]) / picture.width];
  const [vx, vy] = [(b[0] - o[0]) / picture.height, (b[1] - o[1]) / picture.height];
  const det = ux * vy - uy * vx;
  const [dx, dy] = [at[0] - o[0], at[1] - o[1]];
  return [(dx * vy - dy * vx) / det, (dy * ux - dx * uy) / det];
}

/** @param {Point[]} corners @param {Picture} picture @param {Point} pixel @returns {Point} */
function surveyAt(corners, picture, pixel) {
  const [o, a, , b] = corners;
  const u = pixel[0] / picture.width;
  const v = pixel[1] / picture.height;
  return [o[0] + (a[0] - o[0]) * u + (b[0] - o[0]) * v, o[1] + (a[1] - o[1]) * u + (b[1] - o[1]) * v];
}

/** Lay a picture over the middle of the view, north up, as large as it fits. @param {Picture} picture @returns {Point[]} */
function looseCorners(picture) {
  const [west, south, east, north] = view.calculateExtent(map.getSize());
  const k = 0.9 * Math.min((east - west) / picture.width, (north - south) / picture.height);
  const [x, y] = [(west + east) / 2, (south + north) / 2];
  const [w, h] = [(k * picture.width) / 2, (k * picture.height) / 2];
  return [[x - w, y + h], [x + w, y + h], [x + w, y - h], [x - w, y - h]];
}

function chosen() {
  return pictures.find((p) => p.file === choice.value);
}

function begin() {
  const picture = chosen();
  if (!picture) return;
  loose = { picture, corners: picture.corners ?? looseCorners(picture) };
  now.mode = "point";
  host.classList.add("drawing");
  for (const name of POINTS) field(name).value = "";
  // Two points clicked in quick order are no double click.
  zooming?.setActive(false);
  cross = /** @type {Point} */ ([...view.getCenter()]);
  redraw();
  showMarks();
  host.scrollIntoView({ block: "nearest" });
  host.focus();
  say("Click the first of two points that are far apart and known on the site, or move the cross there with the arrow keys and press Enter.");
}

function end() {
  loose = null;
  zooming?.setActive(true);
  if (now.mode === "point") now.mode = "";
  host.classList.remove("drawing");
  redraw();
  showMarks();
}
when("left", () => { end(); say("Left as it was."); });

/** @param {Point} pixel @param {Picture} picture */
function beside(pixel, picture) {
  return pixel[0] < 0 || pixel[1] < 0 || pixel[0] > picture.width || pixel[1] > picture.height;
}

/** Set the next of the two points. @param {Point} at of the survey */
function mark(at) {
  if (now.mode !== "point" || !loose) return;
  const name = POINTS.find((n) => !field(n).value);
  if (!name) return;
  const pixel = pixelAt(loose.corners, loose.picture, at);
  if (beside(pixel, loose.picture)) {
    say("That is beside the picture: choose a point on it.");
    return;
  }
  field(name).value = pixel.map((v) => v.toFixed(1)).join(", ");
  field(name).dispatchEvent(new Event("input", { bubbles: true }));
  showMarks();
  if (name === "first") say("Now the second point.");
  else {
    say("Type how far apart they are, or where both lie, and place it.");
    field("distance").focus();
  }
}

map.on("click", (/** @type {any} */ event) => mark(event.coordinate));
when("mark", () => mark(cross));
when("cross", (/** @type {Point} */ by) => {
  if (!loose) return;
  const r = view.getResolution();
  cross = [cross[0] + by[0] * r, cross[1] + by[1] * r];
  if (!ol.extent.containsCoordinate(view.calculateExtent(map.getSize()), cross)) view.setCenter(cross);
  showMarks();
  const pixel = pixelAt(loose.corners, loose.picture, cross);
  say(beside(pixel, loose.picture) ? "The cross is beside the picture." : `The cross is at ${pixel.map((v) => v.toFixed(0)).join(", ")}.`);
});

/** @param {string} name @returns {Point | null} */
function pair(name) {
  const numbers = field(name).value.trim().split(/[\s,;]+/).map(Number);
  return numbers.length === 2 && field(name).value.trim() && numbers.every(Number.isFinite) ? [numbers[0], numbers[1]] : null;
}

/** Give both pairs of points, or the words for what is missing. @param {Picture} picture @returns {[Point, Point][] | string} */
function pairs(picture) {
  const [a, b] = POINTS.map(pair);
  if (!a || !b) return "Two points of the picture are needed, each as “across, down” in its pixels.";
  const [s, t] = [pair("there"), pair("beyond")];
  if (s && t) return [[a, s], [b, t]];
  const distance = Number(field("distance").value);
  if (!(distance > 0)) return "Type how far apart the two points are, or “east, north” of both.";
  const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
  if (!length) return "The two points are the same.";
  // The first point stays where it is seen; the picture keeps its direction and takes its size.
  const corners = loose?.corners ?? picture.corners ?? looseCorners(picture);
  const from = s ?? surveyAt(corners, picture, a);
  const seen = surveyAt(corners, picture, b);
  const first = surveyAt(corners, picture, a);
  const apart = Math.hypot(seen[0] - first[0], seen[1] - first[1]);
  const k = distance / apart;
  return [[a, from], [b, [from[0] + (seen[0] - first[0]) * k, from[1] + (seen[1] - first[1]) * k]]];
}

/** @param {[Point, Point][] | null} at */
async function place(at) {
  const picture = chosen();
  if (!picture) return;
  try {
    take(await send(`${api}/underlay${suffix}`, { body: { file: picture.file, at } }));
    form.dispatchEvent(new Event("sent"));
    end();
    say(at ? `${picture.title || picture.file} lies under the plan.` : "It is lifted off the plan.");
  } catch (error) {
    say(/** @type {Error} */ (error).message);
  }
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  const picture = chosen();
  if (!picture) return;
  const told = pairs(picture);
  if (typeof told === "string") say(told);
  else void place(told);
});
one("#underlay-point").addEventListener("click", begin);
one("#underlay-lift").addEventListener("click", () => void place(null));

send(`${api}/underlay${suffix}`).then(take).catch((error) => say(error.message));
