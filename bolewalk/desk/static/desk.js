// @ts-check
/** What every page does: say when the desk is gone, keep what was typed, send it when it is back. */

import { idOf, isAnswered, isBack, leaves, wordsOf } from "./sends.js";

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
  const body = options.body === undefined ? undefined : JSON.stringify(options.body);
  const method = options.method ?? (body === undefined ? "GET" : "POST");
  if (body === undefined || options.patient === false) return answerOf(await reach(address, { method, body, signal: options.signal }, false));
  const what = `${method} ${address} ${body}`;
  const id = idOf(what);
  leaves(id);
  try {
    const response = await reach(address, { method, body, signal: options.signal, headers: { "x-send": id } }, true);
    // A desk that stumbled may have kept it all the same.
    if (response.status < 500) isAnswered(what, id);
    return await answerOf(response);
  } finally {
    isBack(id);
  }
}

/**
 * @param {string} address
 * @param {{method: string, body?: string, signal?: AbortSignal, headers?: Record<string, string>}} asked
 * @param {boolean} patient
 * @returns {Promise<Response>}
 */
async function reach(address, asked, patient) {
  const headers = { ...token, ...(asked.body === undefined ? {} : { "content-type": "application/json" }), ...asked.headers };
  /** @type {Response | null} */
  let response = null;
  let late = false;
  while (!response) {
    try {
      response = await fetch(address, { ...asked, headers });
    } catch (error) {
      if (error instanceof DOMException && error.name === "AbortError") throw error;
      if (!patient) {
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
  return response;
}

/** @param {Response} response @returns {Promise<any>} */
async function answerOf(response) {
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

/** Forms the browser was sending when it left the page before. @returns {{key: string, what: string, id: string}[]} */
function sent() {
  return JSON.parse(sessionStorage.getItem(SENT) ?? "[]");
}

// The desk leads on from what it took and says what it refuses. A page that was gone back to, or
// asked for by its address, tells nothing of what was sent before.
const arrival = /** @type {any} */ (performance.getEntriesByType("navigation")[0] ?? {});
const refused = arrival.responseStatus >= 400 && arrival.responseStatus < 500;
for (const { key, what, id } of sent()) {
  if (arrival.redirectCount > 0) sessionStorage.removeItem(key);
  if (arrival.redirectCount > 0 || refused) isAnswered(what, id);
}
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
  const by = event instanceof SubmitEvent ? event.submitter : null;
  if (open.delete(form)) {
    const what = wordsOf(form.action, new FormData(form, by));
    const id = idOf(what);
    sendField(form).value = id;
    sessionStorage.setItem(SENT, JSON.stringify([...sent(), { key: keyOf(form), what, id }]));
    return;
  }
  event.preventDefault();
  void (async () => {
    if (!(await answers())) {
      await waitForDesk();
      sayBack();
    }
    open.add(form);
    form.requestSubmit(by);
  })();
});

/** @param {HTMLFormElement} form */
function sendField(form) {
  const there = form.querySelector('input[type="hidden"][name="send"]');
  if (there instanceof HTMLInputElement) return there;
  const made = document.createElement("input");
  made.type = "hidden";
  made.name = "send";
  form.append(made);
  return made;
}

// --- parts of a page sent by htmx -------------------------------------------------------------------

document.body.addEventListener("htmx:config:request", (event) => {
  const { ctx } = /** @type {CustomEvent} */ (event).detail;
  Object.assign(ctx.request.headers, token);
  if (ctx.request.method === "GET") return;
  ctx.what = wordsOf(ctx.request.action, ctx.request.body);
  ctx.id = idOf(ctx.what);
  leaves(ctx.id);
  ctx.request.headers["x-send"] = ctx.id;
});

document.body.addEventListener("htmx:after:request", (event) => {
  const { ctx } = /** @type {CustomEvent} */ (event).detail;
  if (ctx.id && ctx.response.status < 500) isAnswered(ctx.what, ctx.id);
});

document.body.addEventListener("htmx:finally:request", (event) => {
  const { ctx } = /** @type {CustomEvent} */ (event).detail;
  if (ctx.id) isBack(ctx.id);
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
