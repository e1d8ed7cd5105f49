// @ts-check
/** Files brought to a survey: sent piece by piece, gone on with after any break, stopped at will. */

import { send, token } from "./desk.js";

const PIECE = 4_000_000;
const PATIENCE = [1, 2, 4, 8, 8, 8];

/** @param {number} n */
const pause = (n) => new Promise((done) => setTimeout(done, n));

/** @type {Set<Promise<boolean>>} */
const bringing = new Set();

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll("[data-drop]"))) {
  const list = /** @type {HTMLElement} */ (form.querySelector(".bringing"));
  const input = /** @type {HTMLInputElement} */ (form.querySelector("input[type=file]"));
  const root = `/api/surveys/${form.dataset.drop}/arrivals`;
  const bring = (/** @type {FileList | null} */ files) => {
    for (const file of files ?? []) start(file, root, form.dataset.tree ?? "", list);
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    bring(input.files);
    input.value = "";
  });
  // Anywhere on the sheet will do: nobody aims well with gloves on.
  document.addEventListener("dragover", (event) => {
    if (![...(event.dataTransfer?.types ?? [])].includes("Files")) return;
    event.preventDefault();
    form.classList.add("over");
  });
  document.addEventListener("dragleave", (event) => {
    if (event.relatedTarget === null) form.classList.remove("over");
  });
  document.addEventListener("drop", (event) => {
    if (!event.dataTransfer?.files.length) return;
    event.preventDefault();
    form.classList.remove("over");
    bring(event.dataTransfer.files);
  });
}

/**
 * @param {File} file
 * @param {string} root
 * @param {string} tree
 * @param {HTMLElement} list
 */
function start(file, root, tree, list) {
  const line = document.createElement("li");
  const words = document.createElement("span");
  const bar = document.createElement("progress");
  const stop = document.createElement("button");
  bar.max = 1;
  bar.setAttribute("aria-label", `How much of ${file.name} is here`);
  stop.type = "button";
  stop.textContent = "Stop";
  stop.setAttribute("aria-label", `Stop ${file.name}`);
  line.append(words, " ", bar, " ", stop);
  list.append(line);
  const given = new AbortController();
  stop.addEventListener("click", () => given.abort());
  const work = sent(file, root, tree, given, (say, share) => {
    words.textContent = `${file.name}: ${say}`;
    bar.value = share;
  }).then(
    (told) => {
      bar.remove();
      stop.remove();
      words.textContent = `${file.name}: ${told}`;
      return true;
    },
    (error) => {
      bar.remove();
      stop.remove();
      words.textContent = `${file.name}: ${error.message}`;
      line.className = "wrong";
      return false;
    },
  );
  bringing.add(work);
  void work.then((fine) => {
    bringing.delete(work);
    // The sheet shows what is there now once all have arrived; a fault stays to be read.
    if (!bringing.size && fine && !document.querySelector(".bringing .wrong")) location.reload();
  });
}

/**
 * @param {File} file
 * @param {string} root
 * @param {string} tree
 * @param {AbortController} given
 * @param {(say: string, share: number) => void} tell
 * @returns {Promise<string>}
 */
async function sent(file, root, tree, given, tell) {
  tell("beginning", 0);
  let id = "";
  let task = null;
  for (let tries = 0; ; ) {
    try {
      const begun = await send(root, {
        body: { name: file.name, size: file.size, stamp: String(file.lastModified), tree },
        signal: given.signal,
      });
      id = begun.id;
      task = begun.task;
      let at = begun.at;
      while (task === null) {
        tell(at ? `${Math.floor((100 * at) / file.size)} % is here` : "sending", at / file.size);
        const answer = await put(`${root}/${id}?at=${at}`, file.slice(at, at + PIECE), given.signal);
        tries = 0;
        at = answer.at;
        task = answer.task ?? null;
      }
      break;
    } catch (error) {
      if (given.signal.aborted) return stopped(root, id);
      const status = /** @type {any} */ (error).status;
      if ((status !== undefined && status < 500) || tries >= PATIENCE.length) throw error;
      tell("the desk does not answer; it goes on as soon as it does", 0);
      await pause(1000 * PATIENCE[tries++]);
    }
  }
  return taken(root, id, task, given, tell);
}

/**
 * @param {string} root
 * @param {string} id
 */
async function stopped(root, id) {
  if (id) await send(`${root}/${id}`, { method: "DELETE" }).catch(() => {});
  throw new Error("stopped");
}

/**
 * @param {string} address
 * @param {Blob} piece
 * @param {AbortSignal} signal
 */
async function put(address, piece, signal) {
  const response = await fetch(address, {
    method: "PUT", body: piece, signal, headers: { "content-type": "application/octet-stream", ...token },
  });
  const answer = await response.json().catch(() => ({}));
  // Out of step after a break: the desk says where to go on.
  if (response.ok || (response.status === 409 && typeof answer.at === "number")) return answer;
  const error = new Error(answer.say ?? `the desk answered ${response.status}`);
  /** @type {any} */ (error).status = response.status;
  throw error;
}

/**
 * @param {string} root
 * @param {string} id
 * @param {string} task
 * @param {AbortController} given
 * @param {(say: string, share: number) => void} tell
 * @returns {Promise<string>}
 */
async function taken(root, id, task, given, tell) {
  for (let tries = 0; ; ) {
    if (given.signal.aborted) return stopped(root, id);
    try {
      const { work } = await send(root, { signal: given.signal });
      tries = 0;
      const mine = work.find((/** @type {{id: string}} */ w) => w.id === task);
      if (mine === undefined) throw new Error("bring it again");
      if (mine.state === "done") return mine.says;
      if (mine.state === "failed" || mine.state === "cancelled") throw Object.assign(new Error(mine.says), { status: 422 });
      tell(mine.says, 1);
    } catch (error) {
      if (given.signal.aborted) return stopped(root, id);
      if (/** @type {any} */ (error).status !== undefined || tries >= PATIENCE.length) throw error;
      await pause(1000 * PATIENCE[tries++]);
    }
    await pause(400);
  }
}

// Work begun before this page was opened is watched as well.
if (document.querySelector('[data-state="waiting"], [data-state="running"]') && !bringing.size) {
  setTimeout(() => {
    if (!bringing.size) location.reload();
  }, 1500);
}
