// @ts-check
/** The walk by keyboard, and the player at the moments that are chosen. */

const players = /** @type {HTMLMediaElement[]} */ ([...document.querySelectorAll(".player")]);
/** @type {HTMLMediaElement | undefined} */
let player = players[0];
const found = /** @type {HTMLElement[]} */ ([...document.querySelectorAll("[data-found]")]);

document.addEventListener("click", (event) => {
  const link = event.target instanceof Element ? event.target.closest("[data-start]") : null;
  if (!(link instanceof HTMLElement) || !playFrom(Number(link.dataset.start))) return;
  event.preventDefault();
});

for (const one of players) {
  one.addEventListener("play", () => {
    player = one;
    for (const other of players) if (other !== one) other.pause();
  });
}

/**
 * Play the walk from one of its seconds, in the recording that holds it; false where none does.
 * @param {number} start
 */
function playFrom(start) {
  const one = players.find((p) => start >= Number(p.dataset.from) && start < Number(p.dataset.to));
  if (!one) return false;
  player = one;
  for (const other of players) if (other !== one) other.pause();
  // A second before the words: nobody speaks from silence.
  one.currentTime = Math.max(0, start - Number(one.dataset.from) - 1);
  // A browser may want a touch first; the place is set all the same.
  one.play().catch(() => {});
  return true;
}

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
    // Enter in a form means its first button, which takes the tree in: these two mean their own.
    const meant = event.key === "Enter" && target instanceof HTMLElement ? { into: "merge", parts: "split" }[target.getAttribute("name") ?? ""] : undefined;
    if (meant) {
      event.preventDefault();
      press(meant);
    }
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
    p: () => {
      const first = found[here()]?.querySelector("[data-start]");
      if (first instanceof HTMLElement) playFrom(Number(first.dataset.start));
    },
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

const at = new URLSearchParams(location.search).get("at");
if (at !== null && Number.isFinite(Number(at))) {
  const second = Number(at);
  const lines = /** @type {HTMLElement[]} */ ([...document.querySelectorAll(".transcript [data-start]")]);
  const line = lines.filter((l) => Number(l.dataset.start) <= second + 0.1).at(-1);
  line?.scrollIntoView({ block: "center" });
  line?.focus();
  playFrom(second);
} else if (location.hash) {
  const target = document.getElementById(location.hash.slice(1));
  if (target?.matches("[data-found]")) target.focus();
}
