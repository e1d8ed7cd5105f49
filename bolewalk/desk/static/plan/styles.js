// @ts-check
/** How things are drawn: line types by phase, hatches by kind, marks by verdict. */

import { patterns } from "./hatch.js";
import { crown, disc, lostSector, zone } from "./shapes.js";

const { Style, Stroke, Fill, Text } = ol.style;
const { Polygon, LineString, MultiLineString, MultiPolygon } = ol.geom;

/** @typedef {{shown: Record<string, boolean>, selected: string, inks: Record<string, string>, hatches: Record<string, import("./hatch.js").Hatch | null>, ratio: number}} Look */

const LINES = new Set(["boundary", "wire", "fence", "beam"]);

/**
 * @param {any} feature
 * @param {Look} look
 * @param {number} resolution
 * @returns {any[]}
 */
export function workStyles(feature, look, resolution) {
  const work = feature.get("work");
  const chosen = look.selected === `work:${work.id}`;
  const existing = work.phase === "existing";
  const later = work.phase === "possible later";
  const ink = chosen ? look.inks.accent : existing ? look.inks.grey : look.inks.black;
  const styles = [];
  const footprint = feature.get("footprint");
  const hatch = look.hatches[work.kind];
  const ground = footprint && footprint.length ? new MultiPolygon(footprint) : null;
  const area = ground ?? (isArea(feature.getGeometry()) ? feature.getGeometry() : null);
  if (area && hatch) {
    // Something is always filled, so that the whole ground of a work can be taken hold of.
    styles.push(new Style({ geometry: area, fill: new Fill({ color: "rgba(255,255,255,0.01)" }) }));
    for (const color of patterns(hatch, ink, later ? 1.8 : 1, look.ratio)) {
      styles.push(new Style({ geometry: area, fill: new Fill({ color: /** @type {any} */ (color) }) }));
    }
  }
  styles.push(new Style({ geometry: area ?? undefined, stroke: workLine(work, ink, chosen) }));
  if (feature.getGeometry().getType() === "Point" && (!ground || ol.extent.getWidth(ground.getExtent()) < 9 * resolution)) {
    styles.push(new Style({
      image: new ol.style.Circle({ radius: 4, stroke: new Stroke({ color: ink, width: 2 }), fill: new Fill({ color: existing ? "#fff" : ink }) }),
    }));
  }
  if (look.shown.names && work.name && (chosen || !["pile"].includes(work.kind))) {
    styles.push(new Style({
      text: new Text({
        text: work.name,
        font: `${later ? "italic " : ""}13px "Source Sans 3", sans-serif`,
        fill: new Fill({ color: ink }),
        stroke: new Stroke({ color: "rgba(255,255,255,0.9)", width: 3 }),
        overflow: chosen,
        placement: feature.getGeometry().getType() === "LineString" ? "line" : "point",
        textBaseline: feature.getGeometry().getType() === "LineString" ? "bottom" : "middle",
      }),
    }));
  }
  return styles;
}

/** @param {any} geometry */
function isArea(geometry) {
  return geometry.getType() === "Polygon" || geometry.getType() === "MultiPolygon";
}

/**
 * @param {any} work
 * @param {string} ink
 * @param {boolean} chosen
 */
function workLine(work, ink, chosen) {
  const wide = chosen ? 1.2 : 0;
  if (LINES.has(work.kind)) {
    const dash = { boundary: [16, 4, 3, 4, 3, 4], wire: [10, 4, 2, 4], fence: undefined, beam: [7, 3] }[
      /** @type {"boundary"|"wire"|"fence"|"beam"} */ (work.kind)
    ];
    return new Stroke({ color: ink, width: 1.2 + wide, lineDash: dash });
  }
  if (work.phase === "existing") return new Stroke({ color: ink, width: 1 + wide });
  if (work.phase === "possible later") return new Stroke({ color: ink, width: 1.6 + wide, lineDash: [9, 6] });
  return new Stroke({ color: ink, width: 1.8 + wide, lineDash: work.unsure ? [12, 4] : undefined });
}

/**
 * Crown, root zone, structural radius, lost sides and nearest cuts of a tree.
 * @param {any} feature
 * @param {number} resolution
 * @param {Look} look
 * @returns {any[]}
 */
export function groundStyles(feature, resolution, look) {
  const tree = feature.get("tree");
  const at = feature.getGeometry().getCoordinates();
  const chosen = look.selected === `tree:${tree.id}`;
  const styles = [];
  if (tree.crown && look.shown.crowns) {
    styles.push(line(new Polygon([crown(at, tree.crown)]), look.inks.grey, chosen ? 1.6 : 1));
  }
  if (tree.zone && look.shown.zones && !tree.remove) {
    const ink = chosen ? look.inks.accent : look.inks.black;
    styles.push(line(new Polygon([zone(at, tree.zone, tree.outline)]), ink, chosen ? 1.8 : 1, [8, 5]));
    styles.push(line(new Polygon([disc(at, tree.structural)]), ink, chosen ? 1.6 : 1, [1.5, 3.5]));
  }
  if (tree.sectors && tree.zone && (look.shown.sectors || chosen)) {
    const lost = tree.sectors
      .map((/** @type {number} */ share, /** @type {number} */ i) => (share > 0.05 ? [lostSector(at, tree.zone, i, share)] : null))
      .filter(Boolean);
    if (lost.length) {
      const [color] = patterns({ angles: [45], spacing: 1.1, mark: "", dash: [] }, chosen ? look.inks.accent : look.inks.grey, 1, look.ratio);
      styles.push(new Style({
        geometry: new MultiPolygon(lost),
        fill: new Fill({ color: /** @type {any} */ (color) }),
        stroke: new Stroke({ color: look.inks.grey, width: 0.7 }),
      }));
    }
  }
  if (tree.cuts && look.shown.cuts && !feature.get("moved")) styles.push(...cutStyles(tree, resolution, look, chosen));
  return styles;
}

/**
 * @param {any} geometry
 * @param {string} ink
 * @param {number} width
 * @param {number[]} [dash]
 */
function line(geometry, ink, width, dash) {
  return new Style({ geometry, stroke: new Stroke({ color: ink, width, lineDash: dash }) });
}

/**
 * A line with teeth that point to the trunk, the side on which nothing may be dug; closed, with its
 * error as two thin lines, unless some side has no allowed cut.
 * @param {any} tree
 * @param {number} resolution
 * @param {Look} look
 * @param {boolean} chosen
 */
function cutStyles(tree, resolution, look, chosen) {
  const cuts = tree.cuts;
  const ink = chosen ? look.inks.accent : look.inks.black;
  const tick = 4 * resolution;
  const step = 10 * resolution;
  /** @type {any[]} */
  const teeth = [];
  for (const cut of cuts) {
    const [x0, y0] = cut.from;
    const [x1, y1] = cut.to;
    const length = Math.hypot(x1 - x0, y1 - y0);
    const b = (cut.bearing * Math.PI) / 180;
    for (let d = step / 2; d < length; d += step) {
      const x = x0 + ((x1 - x0) * d) / length;
      const y = y0 + ((y1 - y0) * d) / length;
      teeth.push([[x, y], [x - tick * Math.sin(b), y - tick * Math.cos(b)]]);
    }
  }
  const styles = [line(new MultiLineString(teeth), ink, 0.9)];
  const closed = tree.cut_line;
  if (closed) {
    for (const edge of [closed.inner, closed.outer]) {
      if (edge) styles.push(line(new Polygon([[...edge, edge[0]]]), chosen ? look.inks.accent : look.inks.grey, 0.8, [2, 3]));
    }
    const dash = cuts[0].level === "keep" ? undefined : [3, 3];
    styles.push(line(new Polygon([[...closed.ring, closed.ring[0]]]), ink, chosen ? 2.2 : 1.6, dash));
    return styles;
  }
  const keep = cuts.filter((/** @type {any} */ c) => c.level === "keep").map((/** @type {any} */ c) => [c.from, c.to]);
  const keepIf = cuts.filter((/** @type {any} */ c) => c.level !== "keep").map((/** @type {any} */ c) => [c.from, c.to]);
  if (keep.length) styles.push(line(new MultiLineString(keep), ink, chosen ? 2.2 : 1.6));
  if (keepIf.length) styles.push(line(new MultiLineString(keepIf), ink, chosen ? 2.2 : 1.6, [3, 3]));
  return styles;
}

/**
 * The trunk with the mark of its verdict, as on the printed plan.
 * @param {any} feature
 * @param {number} resolution
 * @param {Look} look
 */
export function trunkStyles(feature, resolution, look) {
  const tree = feature.get("tree");
  const chosen = look.selected === `tree:${tree.id}`;
  const r = Math.min(Math.max(tree.trunk / resolution, 5), 11);
  const ink = chosen ? look.inks.accent : look.inks.black;
  return [new Style({
    renderer: (/** @type {any} */ at, /** @type {any} */ state) => {
      drawMark(state.context, at, r * state.pixelRatio, tree.mark, tree.remove, ink, state.pixelRatio);
    },
    hitDetectionRenderer: (/** @type {any} */ at, /** @type {any} */ state) => {
      const c = state.context;
      c.beginPath();
      c.arc(at[0], at[1], (r + 4) * state.pixelRatio, 0, 2 * Math.PI);
      c.fill();
    },
    zIndex: 5,
  })];
}

/**
 * @param {any} feature
 * @param {number} resolution
 * @param {Look} look
 */
export function nameStyles(feature, resolution, look) {
  const tree = feature.get("tree");
  const chosen = look.selected === `tree:${tree.id}`;
  if (!look.shown.names && !chosen) return [];
  const r = Math.min(Math.max(tree.trunk / resolution, 5), 11);
  return [new Style({
    text: new Text({
      text: tree.id,
      font: `600 14px "Source Sans 3", sans-serif`,
      offsetX: r + 4,
      offsetY: -r - 2,
      textAlign: "left",
      fill: new Fill({ color: chosen ? look.inks.accent : look.inks.black }),
      stroke: new Stroke({ color: "rgba(255,255,255,0.9)", width: 3.5 }),
    }),
    zIndex: chosen ? 10 : 6,
  })];
}

/**
 * @param {CanvasRenderingContext2D} c
 * @param {number[]} at
 * @param {number} r
 * @param {string} mark
 * @param {boolean} remove
 * @param {string} ink
 * @param {number} ratio
 */
export function drawMark(c, at, r, mark, remove, ink, ratio) {
  const [x, y] = at;
  c.save();
  c.strokeStyle = ink;
  c.lineWidth = 1.3 * ratio;
  c.setLineDash([]);
  const ring = (/** @type {number} */ radius, /** @type {string} */ fill) => {
    c.beginPath();
    c.arc(x, y, radius, 0, 2 * Math.PI);
    c.fillStyle = fill;
    c.fill();
    c.stroke();
  };
  if (mark === "keep") ring(r, ink);
  else if (mark === "keep_if") {
    ring(r, "#fff");
    c.beginPath();
    c.arc(x, y, r, Math.PI / 2, (3 * Math.PI) / 2);
    c.fillStyle = ink;
    c.fill();
  } else if (mark === "redesign") {
    c.lineWidth = 2 * ratio;
    ring(r, "#fff");
    const d = r * Math.SQRT1_2;
    c.beginPath();
    c.moveTo(x - d, y + d);
    c.lineTo(x + d, y - d);
    c.stroke();
  } else if (mark === "undecided") {
    ring(r, "#fff");
    ring(r * 0.28, ink);
  } else ring(r * 0.6, "#fff");
  if (remove) {
    const d = r * 1.6;
    c.beginPath();
    c.moveTo(x - d, y - d);
    c.lineTo(x + d, y + d);
    c.moveTo(x - d, y + d);
    c.lineTo(x + d, y - d);
    c.stroke();
  }
  c.restore();
}
