// @ts-check
/** What every page does: warn of unsaved work, say when the desk is gone, keep what was typed. */

const lost = /** @type {HTMLElement} */ (document.getElementById("lost"));

/** @param {string} words */
export function sayLost(words) {
  lost.textContent = words;
  lost.hidden = words === "";
}

/**
 * Send JSON and give the answer; throws an Error whose message can be shown.
 * @param {string} address
 * @param {{method?: string, body?: unknown, signal?: AbortSignal}} [options]
 * @returns {Promise<any>}
 */
export async function send(address, options = {}) {
  /** @type {Response} */
  let response;
  try {
    response = await fetch(address, {
      method: options.method ?? (options.body === undefined ? "GET" : "POST"),
      headers: options.body === undefined ? {} : { "content-type": "application/json" },
      body: options.body === undefined ? undefined : JSON.stringify(options.body),
      signal: options.signal,
    });
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") throw error;
    sayLost("The desk does not answer. What you have typed stays here; start it again and repeat the last step.");
    throw new Error("The desk does not answer.");
  }
  sayLost("");
  const answer = await response.json().catch(() => ({ say: `The desk answered ${response.status}.` }));
  if (!response.ok) {
    const error = new Error(answer.say ?? `The desk answered ${response.status}.`);
    /** @type {any} */ (error).status = response.status;
    /** @type {any} */ (error).answer = answer;
    throw error;
  }
  return answer;
}

// A form marked data-keep holds its text in this browser until it was sent: a reload loses nothing.
for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll("form[data-keep]"))) {
  const key = `typed:${location.pathname}:${form.dataset.keep}`;
  const before = sessionStorage.getItem(key);
  if (before) {
    for (const [name, value] of Object.entries(JSON.parse(before))) {
      const field = form.elements.namedItem(name);
      if (field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement || field instanceof HTMLSelectElement) {
        field.value = String(value);
      }
    }
  }
  form.addEventListener("input", () => {
    const typed = Object.fromEntries([...new FormData(form)].filter(([, v]) => typeof v === "string"));
    sessionStorage.setItem(key, JSON.stringify(typed));
  });
  form.addEventListener("submit", () => sessionStorage.removeItem(key));
}

document.body.addEventListener("htmx:error", () => {
  sayLost("The desk does not answer. What you have typed stays here; it is sent again with the next change.");
});
document.body.addEventListener("htmx:after:request", () => sayLost(""));
