// @ts-check
/**
 * The marking page, enhanced. The page works without this file: each button then sends its acts as a plain form. Here
 * the same acts get their name, number and time on the tablet, are kept until the service has acknowledged them, and
 * the record is swapped for the fresh one that comes back.
 *
 * @typedef {{ id: string, seq: number, at_ms: number, wall: string, act: object }} Observation
 * @typedef {{ id: string | null, accepted?: number, duplicate?: number, conflict?: boolean, refused?: string }} Answer
 * @typedef {{ answers: Answer[], head: { count: number, hash: string }, now: number, fragment: string }} Reply
 */

import { Outbox } from "./outbox.js";
import { uuid7 } from "./uuid7.js";
import { parseFragment } from "./fragment.js";

/** Two taps on one tile within this time are one finger. */
const SAME_TILE_MS = 300;

const page = {
  /** Steady-clock time of the start, as `performance.now()` would have read it; null before it. @type {number | null} */
  startedAt: null,
  /** The next observation's number. */
  nextSeq: 1,
  /** The latest session time given to anything. */
  lastAtMs: 0,
  lastTile: "",
  lastTapAt: -1e9,
  pressedAt: 0,
};

/** @returns {HTMLFormElement} */
function record() {
  return /** @type {HTMLFormElement} */ (document.getElementById("record"));
}

const outbox = new Outbox({
  address: () => record().dataset.entries ?? "",
  onReply: (reply) => swap(reply.fragment),
  onChange: showSync,
});

/** Takes over what the service knows, without ever going back. */
function readRecord() {
  const form = record();
  page.nextSeq = Math.max(page.nextSeq, Number(form.dataset.nextSeq));
  page.lastAtMs = Math.max(page.lastAtMs, Number(form.dataset.lastAtMs));
  const started = Number(form.dataset.started);
  if (page.startedAt === null && started > 0) {
    const sinceStart = Math.max(Date.now() - started, page.lastAtMs);
    page.startedAt = performance.now() - sinceStart;
  }
}

/** Session time at a moment of the steady clock, in whole milliseconds. @param {number} moment */
function sessionTime(moment) {
  if (page.startedAt === null) return 0;
  const running = record().dataset.running !== undefined;
  return running ? Math.max(0, Math.round(moment - page.startedAt)) : page.lastAtMs;
}

/**
 * Makes observations of the acts of one tap. What stands in for something corrected takes its time.
 * @param {object[]} acts @param {number} moment @param {string | undefined} correctedAt
 * @returns {Observation[]}
 */
function observe(acts, moment, correctedAt) {
  let atMs = sessionTime(moment);
  return acts.map((act) => {
    if (/** @type {any} */ (act).kind === "started") {
      page.startedAt = moment;
      atMs = 0;
    }
    const wall = new Date();
    const seen = { id: uuid7(wall.getTime()), seq: page.nextSeq++, at_ms: atMs, wall: wall.toISOString(), act };
    page.lastAtMs = Math.max(page.lastAtMs, atMs);
    const strikes = /** @type {any} */ (act).kind === "struck";
    if (strikes && correctedAt !== undefined) atMs = Number(correctedAt);
    return seen;
  });
}

/** @param {SubmitEvent} event */
function tap(event) {
  const form = event.target;
  const button = event.submitter;
  if (!(form instanceof HTMLFormElement) || form.id !== "record" || !(button instanceof HTMLButtonElement)) return;
  event.preventDefault();
  const now = performance.now();
  if (button.id !== "" && button.id === page.lastTile && now - page.lastTapAt < SAME_TILE_MS) return;
  page.lastTile = button.id;
  page.lastTapAt = now;
  // The time is that of the touch, not of the release; a keyboard has only the one.
  const moment = now - page.pressedAt < 2_000 ? page.pressedAt : now;
  button.classList.add("pressed");
  setTimeout(() => button.classList.remove("pressed"), 250);
  outbox.keep(observe(JSON.parse(button.value), moment, button.dataset.atMs));
}

/** Puts a fresh record in the place of the shown one; focus and opened lists stay. @param {string} html */
function swap(html) {
  const fresh = parseFragment(html);
  if (fresh === null) return;
  const focused = document.activeElement?.id ?? "";
  const open = [...document.querySelectorAll("#record details[open][id]")].map((one) => one.id);
  record().replaceWith(fresh);
  for (const id of open) document.getElementById(id)?.setAttribute("open", "");
  if (focused !== "") document.getElementById(focused)?.focus({ preventScroll: true });
  readRecord();
  showClock();
  showSync();
  const said = document.getElementById("said");
  const last = document.getElementById("last-says")?.textContent ?? "";
  if (said !== null && said.textContent !== last) said.textContent = last;
}

/** Word, shape and count; never a colour alone. */
function showSync() {
  const place = document.getElementById("sync");
  if (place === null) return;
  const { shape, words } = outbox.state();
  const [mark, text] = [document.createElement("span"), document.createTextNode(` ${words}`)];
  mark.setAttribute("aria-hidden", "true");
  mark.textContent = shape;
  if (place.textContent !== `${shape} ${words}`) place.replaceChildren(mark, text);
}

/** @param {number} ms */
function minutes(ms) {
  const seconds = Math.floor(ms / 1000);
  const two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  const [h, m, s] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60];
  return h > 0 ? `${h}:${two(m)}:${two(s)}` : `${two(m)}:${two(s)}`;
}

function showClock() {
  const { dataset } = record();
  if (page.startedAt === null || dataset.running === undefined || dataset.paused !== undefined) return;
  const elapsed = Math.max(0, performance.now() - page.startedAt - Number(dataset.pausedMs));
  const over = elapsed - Number(dataset.allowedMs);
  const [clock, extra] = [document.getElementById("clock"), document.getElementById("over")];
  if (clock !== null) clock.textContent = minutes(elapsed);
  if (extra !== null) extra.textContent = over > 0 ? `over +${minutes(over)}` : "";
}

/** The screen stays on from Start to End, where the browser allows it. */
async function stayAwake() {
  if (document.visibilityState !== "visible" || record().dataset.running === undefined) return;
  try {
    await navigator.wakeLock?.request("screen");
  } catch {
    // Low power or no permission: the tablet's own settings count.
  }
}

document.addEventListener("pointerdown", (event) => {
  if (event.isPrimary) page.pressedAt = performance.now();
});
document.addEventListener("submit", tap);
document.addEventListener("visibilitychange", () => {
  stayAwake();
  outbox.send();
});
addEventListener("online", () => outbox.send());
addEventListener("beforeunload", (event) => {
  if (outbox.waiting() > 0) event.preventDefault();
});
setInterval(showClock, 250);
readRecord();
showClock();
stayAwake();
