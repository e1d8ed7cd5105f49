// @ts-check
/** The plan's tools and keys. */

import { send } from "../desk.js";
import { view, whole } from "./canvas.js";
import { next, select } from "./choosing.js";
import { startDrawing, stopDrawing } from "./drawing.js";
import { keepTrial, putBack, step, stopPutting, stopShaping } from "./moving.js";
import { api, host, now, sayHere, tell, unit } from "./sheet.js";
import { reload, showLive } from "./verdicts.js";

/** @param {"undo" | "redo"} which */
async function again(which) {
  try {
    const answer = await send(`${api}/${which}`, { body: {} });
    await reload();
    tell("listed");
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

function leave() {
  if (now.mode === "draw") stopDrawing();
  else if (now.mode === "shape") stopShaping();
  else if (now.mode === "point") tell("left");
  else if (now.trial) {
    stopPutting();
    putBack();
  } else select("");
  showLive([]);
}

host.addEventListener("keydown", (event) => {
  const times = event.shiftKey ? 10 : 1;
  const go = (/** @type {number} */ dx, /** @type {number} */ dy) => {
    const far = times * (unit === "ft" ? 1 : 0.25);
    // A point of a picture is set by what is seen: on the screen, not on the site.
    if (now.mode === "point") tell("cross", [2 * times * dx, 2 * times * dy]);
    else step(far * dx, far * dy);
  };
  /** @type {Record<string, () => void>} */
  const keys = {
    ArrowUp: () => go(0, 1),
    ArrowDown: () => go(0, -1),
    ArrowLeft: () => go(-1, 0),
    ArrowRight: () => go(1, 0),
    Enter: () => {
      if (now.mode === "point") tell("mark");
      else { stopPutting(); void keepTrial(); }
    },
    Escape: leave,
    "+": doing.in,
    "=": doing.in,
    "-": doing.out,
    n: () => next(now.plan.trees, "tree", 1),
    p: () => next(now.plan.trees, "tree", -1),
    w: () => next(now.plan.works, "work", 1),
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
