// @ts-check
/** The legend's samples of hatches, drawn as on the plan. */

import { look } from "./canvas.js";
import { patterns } from "./hatch.js";
import { when } from "./sheet.js";

when("given", () => {
  for (const canvas of /** @type {NodeListOf<HTMLCanvasElement>} */ (document.querySelectorAll("canvas.hatch"))) {
    const c = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
    const phase = String(canvas.dataset.phase);
    const ink = phase === "existing" ? look.inks.grey : look.inks.black;
    const hatch = look.hatches[String(canvas.dataset.kind)];
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
});
