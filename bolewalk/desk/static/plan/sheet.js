// @ts-check
/** The plan's page as it stands: where it asks, what the desk last gave, who must hear of changes. */

import { one } from "./dom.js";

export const sheet = one("#sheet");
export const host = one("#plan");
export const api = String(sheet.dataset.api);
export const root = String(sheet.dataset.root);
export const suffix = sheet.dataset.plan ? `?plan=${encodeURIComponent(sheet.dataset.plan)}` : "";
export const unit = String(sheet.dataset.unit);

/**
 * `plan` is what the desk last gave, `count` its states, so that a late answer about an earlier
 * one is dropped; `trial` is something moved and not kept yet; `mode` what the next click on the
 * plan is for: "" to choose, else a tool's name.
 * @type {{plan: any, count: number, selected: string, trial: {feature: any, before: any, footprint: any} | null, mode: string}}
 */
export const now = { plan: null, count: 0, selected: "", trial: null, mode: "" };

/** @type {Map<string, ((detail?: any) => void)[]>} */
const listeners = new Map();

/**
 * Be told when something happens: "given" (a new state), "tree" (one tree is known better),
 * "selected", "redraw", "listed" (works came or went), "cross" and "mark" (the cross over a picture is
 * moved, by pixels of the screen, or set).
 * @param {string} name
 * @param {(detail?: any) => void} listener
 */
export function when(name, listener) {
  listeners.set(name, [...(listeners.get(name) ?? []), listener]);
}

/** @param {string} name @param {any} [detail] */
export function tell(name, detail) {
  for (const listener of listeners.get(name) ?? []) listener(detail);
}

/** @param {string} id "tree:T1" */
export function treeOf(id) {
  return now.plan.trees.find((/** @type {any} */ t) => `tree:${t.id}` === id);
}

/** @param {string} id "work:W1" */
export function workOf(id) {
  return now.plan.works.find((/** @type {any} */ w) => `work:${w.id}` === id);
}

/** Say something beside the plan, where what is selected stands. @param {string} words */
export function sayHere(words) {
  const body = one("#selected-body");
  body.querySelector(".here")?.remove();
  const p = document.createElement("p");
  p.className = "say here";
  p.textContent = words;
  body.prepend(p);
}
