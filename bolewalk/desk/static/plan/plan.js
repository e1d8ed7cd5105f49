// @ts-check
/** The site plan: drawn, moved and judged as it moves. */

import { bringIn, whole } from "./canvas.js";
import { select } from "./choosing.js";
import "./answers.js";
import "./copies.js";
import "./drawing.js";
import "./keys.js";
import "./legend.js";
import "./underlay.js";
import { host, now, treeOf } from "./sheet.js";
import { reload } from "./verdicts.js";

await reload();
whole();
const wanted = new URLSearchParams(location.search).get("tree");
if (wanted && treeOf(`tree:${wanted}`)) {
  select(`tree:${wanted}`);
  bringIn(now.selected);
}
host.dataset.ready = "true";
