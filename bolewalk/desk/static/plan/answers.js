// @ts-check
/** Open questions beside the plan: asked anew as facts are tried, answered in place. */

import { send } from "../desk.js";
import { one } from "./dom.js";
import { api, sayHere, suffix, tell } from "./sheet.js";
import { apply } from "./verdicts.js";

let asking = 0;

/** Ask for the questions as they are now; what is being typed stays. */
async function refresh() {
  const part = one("#questions");
  const mine = ++asking;
  let text;
  try {
    const response = await fetch(String(part.dataset.part));
    if (!response.ok) return;
    text = await response.text();
  } catch {
    return;
  }
  if (mine !== asking) return;
  const fresh = new DOMParser().parseFromString(text, "text/html").querySelector("#questions");
  if (!(fresh instanceof HTMLElement)) return;
  const typed = kept(part);
  const focus = document.activeElement;
  const inside = focus instanceof HTMLElement && part.contains(focus);
  const held = inside && focus.closest("form") ? nameOf(/** @type {HTMLElement} */ (focus)) : null;
  part.replaceWith(fresh);
  for (const form of fresh.querySelectorAll("form.answer")) fill(/** @type {HTMLFormElement} */ (form), typed);
  if (!inside) return;
  const again = held && [...fresh.querySelectorAll("input, select, button")].find((e) => nameOf(/** @type {HTMLElement} */ (e)) === held);
  if (again instanceof HTMLElement) again.focus();
  else one("#questions-title").focus();
}

/** @param {HTMLElement} field */
function nameOf(field) {
  const form = field.closest("form");
  const value = field instanceof HTMLInputElement && field.type === "radio" ? field.value : "";
  return `${form?.dataset.keep ?? form?.action}|${field.getAttribute("name") ?? field.tagName}|${value}`;
}

/** @param {HTMLElement} part @returns {Map<string, FormData>} */
function kept(part) {
  const forms = /** @type {NodeListOf<HTMLFormElement>} */ (part.querySelectorAll("form.answer"));
  return new Map([...forms].map((f) => [String(f.dataset.keep), new FormData(f)]));
}

/** @param {HTMLFormElement} form @param {Map<string, FormData>} typed */
function fill(form, typed) {
  for (const [name, value] of typed.get(String(form.dataset.keep)) ?? []) {
    const field = form.elements.namedItem(name);
    if (field instanceof RadioNodeList || field instanceof HTMLInputElement || field instanceof HTMLSelectElement) field.value = String(value);
  }
}

document.body.addEventListener("settled", () => void refresh());

// Typing another value chooses it.
document.addEventListener("input", (event) => {
  const field = event.target;
  if (!(field instanceof HTMLInputElement || field instanceof HTMLSelectElement) || field.name !== "value") return;
  const free = field.closest("form.answer")?.querySelector('input[type="radio"][value="told"]');
  if (free instanceof HTMLInputElement && field.value) free.checked = true;
});

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.matches("#questions form.answer")) return;
  event.preventDefault();
  const told = Object.fromEntries(new FormData(form));
  const say = /** @type {HTMLElement} */ (form.querySelector(".say"));
  send(`${api}/questions${suffix}`, { body: told })
    .then((answer) => {
      form.dispatchEvent(new Event("sent", { bubbles: true }));
      one("#questions-title").focus();
      form.remove();
      apply(answer);
      tell("listed");
      sayHere("The answer is kept and the verdicts follow it. Undo takes it back.");
    })
    .catch((error) => { say.textContent = error.message; });
});
