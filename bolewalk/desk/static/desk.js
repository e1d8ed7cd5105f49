// @ts-check
/** What every page does: say when the desk is gone, keep what was typed, send it when it is back. */

const lost = /** @type {HTMLElement} */ (document.getElementById("lost"));
const GONE = "The desk does not answer. What you typed and did is kept on this page and is sent as soon as it answers again; leave the page open.";
const BACK = "The desk answers again; what was waiting has been sent.";
const EVERY_MS = 1500;
const told = document.querySelector('meta[name="form-token"]');
/** Where people sign in, a change carries the token of the page it comes from. @type {Record<string, string>} */
export const token = told instanceof HTMLMetaElement ? { "x-form-token": told.content } : {};

/** @param {string} words */
export function sayLost(words) {
  if (lost.textContent === words && lost.hidden === (words === "")) return;
  lost.textContent = words;
  lost.hidden = words === "";
}

/** Changes that wait for the desk. */
let waiting = 0;
/** @type {Promise<void> | null} */
let coming = null;

/** Tell whether the desk answers at all, whatever it says. */
async function answers() {
  try {
    await fetch("/openapi.json", { method: "HEAD", cache: "no-store", signal: AbortSignal.timeout(8000) });
    return true;
  } catch {
    return false;
  }
}

/** Wait until the desk answers again. */
function back() {
  coming ??= (async () => {
    while (!(await answers())) await new Promise((done) => setTimeout(done, EVERY_MS));
    coming = null;
  })();
  return coming;
}

/** Say that the desk is gone and wait for it; leaving the page meanwhile is asked about. */
async function waitForDesk() {
  sayLost(GONE);
  waiting += 1;
  try {
    await back();
  } finally {
    waiting -= 1;
  }
}

function sayBack() {
  sayLost(BACK);
  setTimeout(() => { if (lost.textContent === BACK) sayLost(""); }, 8000);
}

window.addEventListener("beforeunload", (event) => {
  if (waiting) event.preventDefault();
});

/**
 * Send JSON and give the answer; throws an Error whose message can be shown. A change that does
 * not reach the desk waits until it answers again, unless `patient` is false.
 * @param {string} address
 * @param {{method?: string, body?: unknown, signal?: AbortSignal, patient?: boolean}} [options]
 * @returns {Promise<any>}
 */
export async function send(address, options = {}) {
  /** @type {Response | null} */
  let response = null;
  let late = false;
  while (!response) {
    try {
      response = await fetch(address, {
        method: options.method ?? (options.body === undefined ? "GET" : "POST"),
        headers: { ...token, ...(options.body === undefined ? {} : { "content-type": "application/json" }) },
        body: options.body === undefined ? undefined : JSON.stringify(options.body),
        signal: options.signal,
      });
    } catch (error) {
      if (error instanceof DOMException && error.name === "AbortError") throw error;
      if (options.body === undefined || options.patient === false) {
        sayLost(GONE);
        void back().then(() => { if (!waiting && lost.textContent === GONE) sayLost(""); });
        throw new Error("The desk does not answer.");
      }
      late = true;
      await waitForDesk();
    }
  }
  if (late) sayBack();
  else if (lost.textContent !== BACK && !waiting) sayLost("");
  const answer = await response.json().catch(() => ({ say: `The desk answered ${response.status}.` }));
  if (!response.ok) {
    const error = new Error(answer.say ?? `The desk answered ${response.status}.`);
    /** @type {any} */ (error).status = response.status;
    /** @type {any} */ (error).answer = answer;
    throw error;
  }
  return answer;
}

// --- what was typed ---------------------------------------------------------------------------------

// A form marked data-keep holds its text in this browser until it was taken: neither a reload nor
// an answer that refuses it loses anything.

const SENT = "sent";

/** @param {HTMLFormElement} form */
function keyOf(form) {
  return `typed:${location.pathname}${location.search}:${form.dataset.keep}`;
}

/** @returns {string[]} */
function sent() {
  return JSON.parse(sessionStorage.getItem(SENT) ?? "[]");
}

const arrived = /** @type {any} */ (performance.getEntriesByType("navigation")[0])?.responseStatus;
if (!arrived || arrived < 400) for (const key of sent()) sessionStorage.removeItem(key);
sessionStorage.removeItem(SENT);

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll("form[data-keep]"))) {
  const before = sessionStorage.getItem(keyOf(form));
  for (const [name, value] of Object.entries(before ? JSON.parse(before) : {})) {
    const field = form.elements.namedItem(name);
    if (field instanceof HTMLInputElement && field.type === "hidden") continue;
    if (field instanceof RadioNodeList || field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement || field instanceof HTMLSelectElement) {
      field.value = String(value);
    }
  }
}

document.addEventListener("input", (event) => {
  const form = event.target instanceof Element ? event.target.closest("form[data-keep]") : null;
  if (!(form instanceof HTMLFormElement)) return;
  const typed = Object.fromEntries([...new FormData(form)].filter(([, v]) => typeof v === "string"));
  sessionStorage.setItem(keyOf(form), JSON.stringify(typed));
});

// A script that has sent a form says so.
document.addEventListener("sent", (event) => {
  if (event.target instanceof HTMLFormElement) sessionStorage.removeItem(keyOf(event.target));
}, true);

// --- forms sent by the browser ----------------------------------------------------------------------

/** Forms whose way to the desk is known to be open. @type {WeakSet<HTMLFormElement>} */
const open = new WeakSet();

// On the window, so that every script of the page has had its turn.
window.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || event.defaultPrevented || form.method !== "post") return;
  if (form.hasAttribute("hx-post")) return;
  if (open.delete(form)) {
    if (form.dataset.keep) sessionStorage.setItem(SENT, JSON.stringify([...sent(), keyOf(form)]));
    return;
  }
  event.preventDefault();
  const by = event instanceof SubmitEvent ? event.submitter : null;
  void (async () => {
    if (!(await answers())) {
      await waitForDesk();
      sayBack();
    }
    open.add(form);
    form.requestSubmit(by);
  })();
});

// --- parts of a page sent by htmx -------------------------------------------------------------------

document.body.addEventListener("htmx:config:request", (event) => {
  Object.assign(/** @type {CustomEvent} */ (event).detail.ctx.request.headers, token);
});

document.body.addEventListener("htmx:error", (event) => {
  const { ctx, error } = /** @type {CustomEvent} */ (event).detail;
  // A fetch that reached nobody is a TypeError; anything else is no matter of the line.
  if (!ctx || !(error instanceof TypeError)) return;
  const source = event.target;
  void (async () => {
    if (!(source instanceof HTMLFormElement)) {
      sayLost(GONE);
      await back();
      if (!waiting) sayLost("");
      return;
    }
    await waitForDesk();
    if (source.isConnected) source.requestSubmit();
    sayBack();
  })();
});
