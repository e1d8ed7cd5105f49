// @ts-check
/** Outlines the canvas draws, made from the figures of a tree; east before north. */

/** @typedef {[number, number]} Point */

/**
 * A circle as chords, clockwise from north.
 * @param {Point} at
 * @param {number} radius
 * @returns {Point[]}
 */
export function disc(at, radius) {
  return around(72, (sin, cos) => [at[0] + radius * sin, at[1] + radius * cos]);
}

/**
 * Four quarter-ellipses through the north, east, south and west radii.
 * @param {Point} at
 * @param {number[]} radii
 * @returns {Point[]}
 */
export function crown(at, radii) {
  const [north, east, south, west] = radii;
  return around(96, (sin, cos) => [
    at[0] + sin * (sin >= 0 ? east : west),
    at[1] + cos * (cos >= 0 ? north : south),
  ]);
}

/**
 * A root zone: its own outline by whole degrees, else a disc.
 * @param {Point} at
 * @param {number} radius
 * @param {number[] | undefined} outline
 * @returns {Point[]}
 */
export function zone(at, radius, outline) {
  if (!outline) return disc(at, radius);
  const ring = outline.map((r, b) => onBearing(at, b, r));
  return [...ring, ring[0]];
}

/**
 * @param {Point} at
 * @param {number} bearing degrees clockwise from north
 * @param {number} distance
 * @returns {Point}
 */
export function onBearing(at, bearing, distance) {
  const b = (bearing * Math.PI) / 180;
  return [at[0] + distance * Math.sin(b), at[1] + distance * Math.cos(b)];
}

/**
 * The lost part of one of eight sectors, true to area, from the outside in.
 * @param {Point} at
 * @param {number} radius
 * @param {number} index 0 = north, clockwise
 * @param {number} share percent
 * @returns {Point[]}
 */
export function lostSector(at, radius, index, share) {
  const inner = radius * Math.sqrt(1 - Math.min(share, 100) / 100);
  /** @type {Point[]} */
  const ring = [];
  for (let i = 0; i <= 9; i += 1) ring.push(onBearing(at, index * 45 - 22.5 + i * 5, radius));
  for (let i = 9; i >= 0; i -= 1) ring.push(onBearing(at, index * 45 - 22.5 + i * 5, inner));
  ring.push(ring[0]);
  return ring;
}

/**
 * @param {number} n
 * @param {(sin: number, cos: number) => Point} place
 * @returns {Point[]}
 */
function around(n, place) {
  /** @type {Point[]} */
  const ring = [];
  for (let i = 0; i <= n; i += 1) {
    const a = (2 * Math.PI * (i % n)) / n;
    ring.push(place(Math.sin(a), Math.cos(a)));
  }
  return ring;
}
