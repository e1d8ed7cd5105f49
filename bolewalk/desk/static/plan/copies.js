// @ts-check
/** What-if copies of the works: made, taken over, dropped. */

import { send } from "../desk.js";
import { one } from "./dom.js";
import { api, now, root, suffix } from "./sheet.js";

const say = one("#copy-say");

one("#copy").addEventListener("submit", (event) => {
  event.preventDefault();
  const form = /** @type {HTMLFormElement} */ (event.target);
  send(`${api}/copies${suffix}`, { body: { name: String(new FormData(form).get("name")), moved: {} } })
    .then((made) => {
      form.dispatchEvent(new Event("sent"));
      location.assign(`${root}/site?plan=${encodeURIComponent(made.plan)}`);
    })
    .catch((error) => { say.textContent = error.message; });
});

for (const button of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-copy]"))) {
  button.addEventListener("click", () => {
    const address = `${api}/copies/${encodeURIComponent(now.plan.variant)}`;
    const adopt = button.dataset.copy === "adopt";
    send(adopt ? `${address}/adopt` : address, { method: adopt ? "POST" : "DELETE", body: {} })
      .then(() => location.assign(`${root}/site`))
      .catch((error) => { say.textContent = error.message; });
  });
}
