// @ts-check
/** Tries the open facts of a table's trees, batch by batch, and writes the verdicts as they come. */

import { send } from "./desk.js";
import { markOf } from "./plan/marks.js";

const note = document.getElementById("pending");
const rows = () => /** @type {HTMLElement[]} */ ([...document.querySelectorAll("tbody[data-pending='yes']")]);

while (note && rows().length) {
  /** @type {any} */
  let answer;
  try {
    answer = await send(String(note.dataset.settle), { body: { trees: rows().slice(0, 40).map((r) => r.dataset.tree) } });
  } catch {
    break;
  }
  for (const tree of answer.trees) {
    const row = document.querySelector(`tbody[data-tree="${CSS.escape(tree.id)}"]`);
    if (!(row instanceof HTMLElement)) continue;
    row.dataset.pending = "";
    row.querySelector(".mark")?.replaceChildren(markOf(tree.mark), tree.verdict);
  }
  if (!answer.trees.length) break;
  note.hidden = rows().length === 0;
}
