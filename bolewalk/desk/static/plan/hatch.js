// @ts-check
/** Hatches of the printed plan as canvas patterns: the same angles, spacings and marks. */

/**
 * @typedef {{angles: number[], spacing: number, mark: string, dash: number[]}} Hatch
 */

const PX_PER_MM = 96 / 25.4;

/** @type {Map<string, CanvasPattern[]>} */
const made = new Map();

/**
 * Give the fills that lie over one another for a hatch.
 * @param {Hatch} hatch
 * @param {string} ink
 * @param {number} widen factor on the spacing: works that may come later are hatched wider
 * @param {number} ratio device pixels for one CSS pixel
 * @returns {CanvasPattern[]}
 */
export function patterns(hatch, ink, widen, ratio) {
  const key = JSON.stringify([hatch, ink, widen, ratio]);
  const known = made.get(key);
  if (known) return known;
  const k = PX_PER_MM * ratio;
  const found = hatch.mark
    ? [marks(hatch.mark, hatch.spacing * widen * k, ink, k)]
    : hatch.angles.map((angle) => lines(angle, hatch.spacing * widen * k, hatch.dash.map((d) => d * k), ink, k));
  made.set(key, found);
  return found;
}

/**
 * @param {number} width
 * @param {number} height
 * @param {string} ink
 * @param {number} k
 * @param {(context: CanvasRenderingContext2D) => void} draw
 * @returns {CanvasPattern}
 */
function tile(width, height, ink, k, draw) {
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(2, Math.round(width));
  canvas.height = Math.max(2, Math.round(height));
  const context = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  context.strokeStyle = ink;
  context.lineWidth = Math.max(0.8, 0.13 * k);
  draw(context);
  return /** @type {CanvasPattern} */ (context.createPattern(canvas, "repeat"));
}

/**
 * @param {number} angle degrees, counter-clockwise from right
 * @param {number} spacing
 * @param {number[]} dash
 * @param {string} ink
 * @param {number} k
 */
function lines(angle, spacing, dash, ink, k) {
  const dashed = dash.length === 2;
  const width = dashed ? dash[0] + dash[1] : 8;
  const rows = dashed ? 2 : 1;
  const pattern = tile(width, spacing * rows, ink, k, (context) => {
    const w = context.canvas.width;
    const h = context.canvas.height;
    for (let row = 0; row < rows; row += 1) {
      const y = (h / rows) * (row + 0.5);
      const shift = row ? w / 2 : 0;
      context.beginPath();
      for (const start of dashed ? [shift - w, shift] : [0]) {
        context.moveTo(start, y);
        context.lineTo(start + (dashed ? dash[0] : w), y);
      }
      context.stroke();
    }
  });
  pattern.setTransform(new DOMMatrix().rotate(-angle));
  return pattern;
}

/**
 * @param {string} mark
 * @param {number} spacing
 * @param {string} ink
 * @param {number} k
 */
function marks(mark, spacing, ink, k) {
  return tile(spacing, spacing, ink, k, (context) => {
    const s = context.canvas.width;
    for (const [x, y] of [[s / 4, s / 4], [(3 * s) / 4, (3 * s) / 4]]) one(context, mark, x, y, k);
  });
}

/**
 * @param {CanvasRenderingContext2D} context
 * @param {string} mark
 * @param {number} x
 * @param {number} y
 * @param {number} k
 */
function one(context, mark, x, y, k) {
  const s = 0.45 * k;
  context.beginPath();
  if (mark === "dot") {
    context.arc(x, y, Math.max(0.7, 0.14 * k), 0, 2 * Math.PI);
    context.fillStyle = String(context.strokeStyle);
    context.fill();
    return;
  }
  if (mark === "plus") {
    context.moveTo(x - s, y);
    context.lineTo(x + s, y);
    context.moveTo(x, y - s);
    context.lineTo(x, y + s);
  } else if (mark === "cross") {
    context.moveTo(x - s, y - s);
    context.lineTo(x + s, y + s);
    context.moveTo(x - s, y + s);
    context.lineTo(x + s, y - s);
  } else {
    context.moveTo(x, y - s);
    context.lineTo(x, y + s);
  }
  context.stroke();
}
