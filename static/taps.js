// @ts-check
/**
 * Fingers and keys. A tile turns over when it is touched and records when it is let go; sliding off records nothing; a
 * second finger counts for nothing; the same place again within 300 ms is the same tap.
 *
 * @typedef {(button: HTMLButtonElement, moment: number) => void} OnTap
 */

const SAME_PLACE_MS = 300;
/** A click this soon after a finger left belongs to it. */
const CLICK_AFTER_MS = 700;

/** @type {{ id: number, button: HTMLButtonElement, moment: number } | null} */
let down = null;
let lastPlace = "";
let lastMoment = -1e9;
let lastPointerAt = -1e9;
let swallowing = false;

/** @param {EventTarget | null} target @returns {HTMLButtonElement | null} */
function acting(target) {
  const button = target instanceof Element ? target.closest("button[name=acts]") : null;
  return button instanceof HTMLButtonElement && !button.disabled ? button : null;
}

/** The steady clock when the event happened, which may be before it is handled. @param {Event} event */
function momentOf(event) {
  const now = performance.now();
  return event.timeStamp <= now && now - event.timeStamp < 5_000 ? event.timeStamp : now;
}

/** @param {OnTap} onTap */
export function listen(onTap) {
  const tap = (/** @type {HTMLButtonElement} */ button, /** @type {number} */ moment) => {
    const place = button.dataset.place ?? button.id;
    const same = place === lastPlace && moment - lastMoment < SAME_PLACE_MS;
    if (same) return;
    [lastPlace, lastMoment] = [place, moment];
    onTap(button, moment);
  };

  document.addEventListener("pointerdown", (event) => {
    const button = acting(event.target);
    lastPointerAt = performance.now();
    swallowing = false;
    if (down !== null && down.button.isConnected) return;
    if (button === null || event.button !== 0) return;
    down = { id: event.pointerId, button, moment: momentOf(event) };
    button.classList.add("pressed");
  });
  document.addEventListener("pointerup", (event) => {
    lastPointerAt = performance.now();
    if (down === null || event.pointerId !== down.id) return;
    const { button, moment } = down;
    down = null;
    button.classList.remove("pressed");
    const under = document.elementFromPoint(event.clientX, event.clientY);
    // What is drawn in the tile's place must not get the click that is still to come.
    swallowing = true;
    if (under !== null && button.contains(under)) tap(button, moment);
  });
  document.addEventListener("pointercancel", (event) => {
    if (down === null || event.pointerId !== down.id) return;
    down.button.classList.remove("pressed");
    down = null;
  });
  // Keys and screen readers have no pointer; the click of a finger that was dealt with is swallowed.
  document.addEventListener("click", (event) => {
    const ofFinger = event.detail !== 0 && performance.now() - lastPointerAt < CLICK_AFTER_MS;
    const button = acting(event.target);
    if (button !== null || (swallowing && ofFinger)) event.preventDefault();
    if (button !== null && !ofFinger) tap(button, momentOf(event));
  }, { capture: true });
  document.addEventListener("submit", (event) => {
    if (event.target instanceof HTMLFormElement && event.target.id === "record") event.preventDefault();
  });
  // A long press is a slow tap, not a menu.
  document.addEventListener("contextmenu", (event) => {
    if (acting(event.target) !== null) event.preventDefault();
  });
}

/** Arrows inside a block, Tab between blocks. */
export function arrows() {
  document.addEventListener("keydown", (event) => {
    if (!event.key.startsWith("Arrow") || !(event.target instanceof HTMLElement)) return;
    const block = event.target.closest("[role=group]");
    if (block === null || event.target instanceof HTMLInputElement) return;
    const next = nearest(event.target, stops(block), event.key);
    if (next === null) return;
    event.preventDefault();
    next.focus();
  });
  document.addEventListener("focusin", (event) => {
    const block = event.target instanceof HTMLElement ? event.target.closest("[role=group]") : null;
    if (block !== null) rove(block, /** @type {HTMLElement} */ (event.target));
  });
}

/** @param {Element} block @returns {HTMLElement[]} */
function stops(block) {
  return [...block.querySelectorAll("button:not(:disabled), summary")].map((one) => /** @type {HTMLElement} */ (one));
}

/** One stop of each block can be reached by Tab. @param {Element} block @param {HTMLElement} [chosen] */
export function rove(block, chosen) {
  const all = stops(block);
  const one = chosen !== undefined && all.includes(chosen) ? chosen : all.find((stop) => stop.tabIndex === 0) ?? all[0];
  for (const stop of all) stop.tabIndex = stop === one ? 0 : -1;
}

/** The nearest stop in the arrow's direction. @param {HTMLElement} from @param {HTMLElement[]} all @param {string} key */
function nearest(from, all, key) {
  const middle = (/** @type {HTMLElement} */ one) => {
    const { x, y, width, height } = one.getBoundingClientRect();
    return { x: x + width / 2, y: y + height / 2 };
  };
  const here = middle(from);
  const sideways = key === "ArrowLeft" || key === "ArrowRight";
  const sign = key === "ArrowLeft" || key === "ArrowUp" ? -1 : 1;
  let best = null;
  let least = Infinity;
  for (const one of all) {
    const there = middle(one);
    const [along, across] = sideways ? [there.x - here.x, there.y - here.y] : [there.y - here.y, there.x - here.x];
    if (along * sign < 2) continue;
    const far = along * sign + Math.abs(across) * 3;
    if (far < least) [best, least] = [one, far];
  }
  return best;
}
