// @ts-check
/** What is selected: on the plan, in the lists, in the panel beside it. */

import { bringIn, ground, look, map } from "./canvas.js";
import { one } from "./dom.js";
import { treePanel, workPanel } from "./panel.js";
import { host, now, root, suffix, tell, treeOf, unit, when, workOf } from "./sheet.js";

/**
 * What the panel's buttons do, given by the modules that do it.
 * @type {{place: (tree: any, x: number, y: number) => void, put: (tree: any) => void, save: (work: any, properties: Record<string, string>, corners: string) => void, remove: (work: any) => void, shape: () => void, leave: () => void}}
 */
export const acts = /** @type {any} */ ({});

/** @param {string} id "tree:T1", "work:W3" or "" */
export function select(id) {
  if (id !== now.selected) acts.leave();
  now.selected = id;
  look.selected = id;
  showSelected();
  tell("redraw");
}

export function showSelected() {
  for (const element of document.querySelectorAll(".panel [data-tree], .panel [data-work]")) {
    const mine = element instanceof HTMLElement && (element.dataset.tree ? `tree:${element.dataset.tree}` : `work:${element.dataset.work}`);
    // A list item has no aria-selected; the button in it can be the current one of its list.
    const pick = element.querySelector(".pick");
    element.classList.toggle("chosen", mine === now.selected);
    if (mine === now.selected) pick?.setAttribute("aria-current", "true");
    else pick?.removeAttribute("aria-current");
  }
  const body = one("#selected-body");
  const held = heldIn(body);
  const tree = treeOf(now.selected);
  const work = workOf(now.selected);
  one("#selected").classList.toggle("some", Boolean(tree || work));
  if (tree) {
    body.replaceChildren(...treePanel(tree, {
      root, suffix, unit,
      place: (x, y) => acts.place(tree, Number(x), Number(y)),
      put: () => acts.put(tree),
    }));
  } else if (work) {
    body.replaceChildren(...workPanel(work, {
      choices: now.plan.choices, unit, variant: now.plan.variant,
      save: (properties, corners) => acts.save(work, properties, corners),
      remove: () => acts.remove(work),
      shape: () => acts.shape(),
    }));
  } else {
    const p = document.createElement("p");
    p.className = "aside";
    p.textContent = "Nothing. Choose a tree or a work, on the plan or in the lists below.";
    body.replaceChildren(p);
  }
  if (held < 0) return;
  // Whoever kept something from the panel goes on from there.
  const again = [...body.querySelectorAll(FIELDS)][held] ?? one("#selected-title");
  if (again instanceof HTMLElement) again.focus();
}

const FIELDS = "input, select, textarea, button, a[href], summary";

/** Which of the panel's controls has the focus, -1 where none has. @param {HTMLElement} body */
function heldIn(body) {
  return [...body.querySelectorAll(FIELDS)].findIndex((e) => e === document.activeElement);
}

/** The next of a list, round and round. @param {any[]} list @param {string} kind @param {number} by */
export function next(list, kind, by) {
  if (!list.length) return;
  const at = list.findIndex((t) => `${kind}:${t.id}` === now.selected);
  const to = at < 0 ? list[by > 0 ? 0 : list.length - 1] : list[(at + by + list.length) % list.length];
  select(`${kind}:${to.id}`);
  bringIn(now.selected);
}

when("given", showSelected);
when("tree", () => {
  // Somebody may be typing into the panel: it is drawn anew when they have left it.
  const typing = one("#selected-body").contains(document.activeElement);
  if (now.selected.startsWith("tree:") && !typing) showSelected();
});

map.on("click", (/** @type {any} */ event) => {
  if (now.mode) return;
  const hit = map.forEachFeatureAtPixel(event.pixel, (/** @type {any} */ f) => f, {
    hitTolerance: 5,
    layerFilter: (/** @type {any} */ l) => l !== ground && l.get("pick") !== false,
  });
  select(hit ? hit.getId() : "");
});

document.addEventListener("click", (event) => {
  const button = event.target instanceof Element ? event.target.closest(".pick") : null;
  const holder = button?.closest("[data-tree], [data-work]");
  if (!(holder instanceof HTMLElement)) return;
  const id = holder.dataset.tree ? `tree:${holder.dataset.tree}` : `work:${holder.dataset.work}`;
  select(id);
  bringIn(id);
  if (host.getBoundingClientRect().bottom < 0) one("#selected").scrollIntoView({ block: "nearest" });
});
