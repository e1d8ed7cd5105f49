// @ts-check
/** Elements made from values; text is always text. */

/**
 * @param {string} tag
 * @param {Record<string, any>} attributes `on...` are listeners, true and false set or leave out
 * @param {...(Node | string | null)} children
 * @returns {HTMLElement}
 */
export function h(tag, attributes, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, String(value));
  }
  element.append(...children.filter((c) => c !== null));
  return element;
}

/**
 * @param {string} selector
 * @returns {HTMLElement}
 */
export function one(selector) {
  const found = document.querySelector(selector);
  if (!(found instanceof HTMLElement)) throw new Error(`the page has no ${selector}`);
  return found;
}

/**
 * Read corners typed one "east, north" a line.
 * @param {string} typed
 * @returns {[number, number][] | null} null where a line is no pair of numbers
 */
export function corners(typed) {
  /** @type {[number, number][]} */
  const points = [];
  for (const line of typed.split(/[\n;]+/)) {
    if (!line.trim()) continue;
    const pair = line.trim().split(/[\s,]+/).map(Number);
    if (pair.length !== 2 || !pair.every(Number.isFinite)) return null;
    points.push([pair[0], pair[1]]);
  }
  return points;
}

/**
 * The geometry a kind of works is drawn as.
 * @param {string} kind
 * @returns {"Point" | "LineString" | "Polygon"}
 */
export function shapeOf(kind) {
  if (kind === "pile") return "Point";
  const areas = ["excavation", "slab", "fill", "paving", "building", "roof", "storage"];
  return areas.includes(kind) ? "Polygon" : "LineString";
}

/**
 * @param {string} kind
 * @param {[number, number][]} points
 * @returns {any} GeoJSON geometry, null where the points are too few
 */
export function geometryFrom(kind, points) {
  const shape = shapeOf(kind);
  if (shape === "Point") return points.length === 1 ? { type: "Point", coordinates: points[0] } : null;
  if (shape === "LineString") return points.length > 1 ? { type: "LineString", coordinates: points } : null;
  return points.length > 2 ? { type: "Polygon", coordinates: [[...points, points[0]]] } : null;
}

/**
 * The corners of a simple geometry as they are typed; "" for one of several parts.
 * @param {any} geometry GeoJSON
 * @returns {string}
 */
export function typed(geometry) {
  /** @type {[number, number][] | null} */
  let points = null;
  if (geometry.type === "Point") points = [geometry.coordinates];
  else if (geometry.type === "LineString") points = geometry.coordinates;
  else if (geometry.type === "Polygon" && geometry.coordinates.length === 1) points = geometry.coordinates[0].slice(0, -1);
  return points ? points.map(([x, y]) => `${x}, ${y}`).join("\n") : "";
}
