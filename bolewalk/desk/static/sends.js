// @ts-check
/** Ids of what is sent: sent again because no answer came, the same has the same id, and is done once. */

const KEPT = "sends";

/** Ids on their way from this page: the same once more is meant twice. @type {Set<string>} */
const flying = new Set();

/** What was sent and not answered -> ids of its sendings. @returns {Record<string, string[]>} */
function unanswered() {
  return JSON.parse(sessionStorage.getItem(KEPT) ?? "{}");
}

/** @param {Record<string, string[]>} all */
function keep(all) {
  try {
    sessionStorage.setItem(KEPT, JSON.stringify(all));
  } catch {
    // No room: what was sent is known as long as the page is open.
  }
}

/** A random id; `crypto.randomUUID` is for pages that come by TLS or from this computer. */
function fresh() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");
}

/**
 * Give the id something is sent under: that of an earlier sending nobody has answered, else a new one.
 * @param {string} what its address and all it says
 */
export function idOf(what) {
  const all = unanswered();
  const known = (all[what] ?? []).find((id) => !flying.has(id));
  if (known) return known;
  const id = fresh();
  all[what] = [...(all[what] ?? []), id];
  keep(all);
  return id;
}

/** @param {string} id */
export function leaves(id) {
  flying.add(id);
}

/** @param {string} id */
export function isBack(id) {
  flying.delete(id);
}

/** The desk has answered: the same again is something new. @param {string} what @param {string} id */
export function isAnswered(what, id) {
  const all = unanswered();
  const left = (all[what] ?? []).filter((i) => i !== id);
  if (left.length) all[what] = left;
  else delete all[what];
  keep(all);
}

/**
 * Give the words of a form that is sent, without what differs each time the page is opened.
 * @param {string} address
 * @param {FormData} data
 */
export function wordsOf(address, data) {
  const told = [...data].filter(([name]) => name !== "form_token" && name !== "send");
  return `${address} ${JSON.stringify(told.map(([name, v]) => [name, v instanceof File ? [v.name, v.size, v.lastModified] : v]))}`;
}
