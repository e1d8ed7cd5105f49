// @ts-check
/** The walk by keyboard, and the player at the moments that are chosen. */

const player = /** @type {HTMLMediaElement | null} */ (document.getElementById("player"));
const found = /** @type {HTMLElement[]} */ ([...document.querySelectorAll("[data-found]")]);

document.addEventListener("click", (event) => {
  const link = event.target instanceof Element ? event.target.closest("[data-start]") : null;
  if (!player || !(link instanceof HTMLElement)) return;
  event.preventDefault();
  // A second before the words: nobody speaks from silence.
  player.currentTime = Math.max(0, Number(link.dataset.start) - 1);
  void player.play();
});

/** @returns {number} */
function here() {
  const holder = document.activeElement?.closest("[data-found]");
  return holder instanceof HTMLElement ? found.indexOf(holder) : -1;
}

/** @param {number} by */
function step(by) {
  const at = here();
  const next = found[at < 0 ? (by > 0 ? found.findIndex((f) => !f.classList.contains("decided")) : 0) : Math.min(Math.max(at + by, 0), found.length - 1)];
  next?.focus();
  next?.scrollIntoView({ block: "center" });
}

/** @param {string} action */
function press(action) {
  const holder = found[here()];
  const button = holder?.querySelector(`button[value="${action}"]`);
  if (button instanceof HTMLButtonElement) button.click();
}

/** @param {string} name */
function go(name) {
  const field = found[here()]?.querySelector(`[name="${name}"]`);
  if (field instanceof HTMLElement) field.focus();
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const target = event.target;
  if (target instanceof Element && target.closest("input, textarea, select, audio, video")) {
    if (event.key === "Escape") found[here()]?.focus();
    return;
  }
  /** @type {Record<string, () => void>} */
  const keys = {
    j: () => step(1),
    k: () => step(-1),
    a: () => press("accept"),
    d: () => press("discard"),
    m: () => go("into"),
    s: () => go("parts"),
    e: () => go("species"),
  };
  if (player && event.key === " " && !(target instanceof HTMLButtonElement) && !(target instanceof HTMLAnchorElement)) {
    event.preventDefault();
    if (player.paused) void player.play();
    else player.pause();
    return;
  }
  const act = keys[event.key.toLowerCase()];
  if (!act) return;
  event.preventDefault();
  act();
});

if (location.hash) {
  const target = document.getElementById(location.hash.slice(1));
  if (target?.matches("[data-found]")) target.focus();
}
