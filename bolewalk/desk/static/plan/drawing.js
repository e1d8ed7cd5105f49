// @ts-check
/** Drawing works: on the plan or corner by corner; changing what is told of them, taking them out. */

import { send } from "../desk.js";
import { asGeojson, map } from "./canvas.js";
import { acts, select } from "./choosing.js";
import { corners, geometryFrom, one, shapeOf } from "./dom.js";
import { keeping, live } from "./moving.js";
import { api, host, now, sayHere, suffix, tell, when } from "./sheet.js";
import { apply, showLive } from "./verdicts.js";

/** @type {any} */
let drawing = null;
const form = /** @type {HTMLFormElement} */ (one("#draw"));

/** @returns {Record<string, string>} */
function properties() {
  /** @type {Record<string, string>} */
  const told = {};
  for (const [name, value] of new FormData(form)) {
    if (name !== "corners" && String(value).trim()) told[name] = String(value).trim();
  }
  return told;
}

/** @param {string} words */
function say(words) {
  one("#draw-say").textContent = words;
}

export function startDrawing() {
  stopDrawing();
  const kind = properties().kind;
  now.mode = "draw";
  drawing = new ol.interaction.Draw({ type: shapeOf(kind), stopClick: true });
  drawing.on("drawstart", (/** @type {any} */ event) => {
    event.feature.getGeometry().on("change", () => {
      const geometry = asGeojson(event.feature.getGeometry());
      if (enough(geometry)) void live({ properties: properties(), geometry });
    });
  });
  drawing.on("drawend", (/** @type {any} */ event) => {
    const geometry = asGeojson(event.feature.getGeometry());
    // The map still handles the click that ended the drawing.
    setTimeout(() => { stopDrawing(); void add(geometry); }, 0);
  });
  map.addInteraction(drawing);
  host.classList.add("drawing");
  host.scrollIntoView({ block: "nearest" });
  host.focus();
  say(shapeOf(kind) === "Point" ? "Click where it stands." : "Click each corner; click the last one twice.");
}

/** @param {any} geometry */
function enough(geometry) {
  if (geometry.type === "Point") return true;
  const points = geometry.type === "Polygon" ? geometry.coordinates[0] : geometry.coordinates;
  const last = points[points.length - 1];
  const before = points[points.length - 2];
  return points.length >= (geometry.type === "Polygon" ? 4 : 2) && (!before || last[0] !== before[0] || last[1] !== before[1]);
}

export function stopDrawing() {
  if (drawing) map.removeInteraction(drawing);
  drawing = null;
  if (now.mode === "draw") now.mode = "";
  host.classList.remove("drawing");
  say("");
}

/** @param {any} geometry */
async function add(geometry) {
  try {
    const answer = await send(`${api}/works${suffix}`, { body: { properties: properties(), geometry } });
    apply(answer);
    const made = now.plan.works.find((/** @type {any} */ w) => w.key === answer.changed[0]);
    const typed = form.elements.namedItem("corners");
    if (typed instanceof HTMLTextAreaElement) typed.value = "";
    form.dispatchEvent(new Event("sent"));
    tell("listed");
    if (made) select(`work:${made.id}`);
    say(made ? `${made.name || made.id} is on the plan.` : "");
  } catch (error) {
    say(/** @type {Error} */ (error).message);
    showLive([]);
  }
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  const field = /** @type {HTMLTextAreaElement} */ (form.elements.namedItem("corners"));
  const points = corners(field.value);
  const geometry = points && geometryFrom(properties().kind, points);
  field.setAttribute("aria-invalid", geometry ? "false" : "true");
  if (!geometry) {
    say("Give one “east, north” pair of numbers a line: one for a pile, two or more for a line, three or more for an area.");
    field.focus();
    return;
  }
  void add(geometry);
});

/** @param {any} work @param {Record<string, string>} told @param {string} typedCorners */
async function save(work, told, typedCorners) {
  const points = typedCorners ? corners(typedCorners) : null;
  const geometry = points ? geometryFrom(told.kind, points) : null;
  if (typedCorners && !geometry) {
    sayHere("The corners are not pairs of numbers, or too few for this kind.");
    return;
  }
  const body = { version: work.version, properties: told, ...(geometry ? { geometry } : {}) };
  if (await keeping(() => send(`${api}/works/${encodeURIComponent(work.key)}${suffix}`, { method: "PUT", body }))) {
    tell("listed");
    sayHere("Kept.");
  }
}

/** @param {any} work */
async function remove(work) {
  if (await keeping(() => send(`${api}/works/${encodeURIComponent(work.key)}${suffix}`, { method: "DELETE", body: { version: work.version } }))) {
    select("");
    tell("listed");
    sayHere(`${work.name || work.id} is taken out. Undo brings it back.`);
  }
}

acts.save = (work, told, typed) => void save(work, told, typed);
acts.remove = (work) => void remove(work);

when("listed", () => {
  const list = one("#works");
  one("#no-works").hidden = now.plan.works.length > 0;
  list.replaceChildren(...now.plan.works.map((/** @type {any} */ work) => {
    const li = document.createElement("li");
    li.dataset.work = work.id;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "pick";
    button.textContent = work.name || work.id;
    const later = document.createElement("span");
    later.className = "later";
    later.textContent = ` ${work.name ? `${work.id}, ` : ""}${work.kind}, ${work.phase}`;
    li.append(button, later);
    return li;
  }));
});
