// @ts-check
/**
 * The marking page, enhanced. Without this file each button sends its acts as a plain form. Here the same acts get their
 * name, number and time on the tablet, are kept there until the service has acknowledged them, and show at once.
 *
 * @typedef {import("./known.js").Act} Act
 * @typedef {import("./known.js").Observation} Observation
 * @typedef {import("./known.js").Sheet} Sheet
 * @typedef {import("./store.js").Kept} Kept
 */

import { SessionClock } from "./clock.js";
import { parseRecord } from "./fragment.js";
import { Gate } from "./gate.js";
import { Known, minutes } from "./known.js";
import { Outbox } from "./outbox.js";
import { make, show } from "./show.js";
import { Store, withoutText } from "./store.js";
import { Tablet } from "./tablet.js";
import { arrows, listen } from "./taps.js";
import { uuid7 } from "./uuid7.js";
import { describe } from "./words.js";

const SUMS_OPEN_MS = 8_000;
const ASK_AGAIN_MS = 15_000;
const OFFER_FILE_MS = 15 * 60_000;
const LOOK_MS = 2_000;

const store = new Store();
const clock = new SessionClock();
const session = location.pathname.split("/")[2] ?? "";

/** The record, or null where neither the service nor the tablet has it. @returns {Promise<{ record: HTMLFormElement, fromTablet: boolean } | null>} */
async function findRecord() {
  const served = document.getElementById("record");
  if (served instanceof HTMLFormElement) return { record: served, fromTablet: false };
  const kept = await store.opened(session).catch(() => undefined);
  const place = document.getElementById("no-record");
  const record = kept === undefined ? null : parseRecord(kept.page);
  if (record === null) {
    if (place !== null) place.textContent = "This tablet does not keep this session. Connect and load the page again.";
    return null;
  }
  place?.replaceWith(record);
  return { record, fromTablet: true };
}

class Marking {
  /** Everything recorded that this page knows of, in the order of recording. @type {Observation[]} */
  #log = [];
  /** What the service has. @type {Set<string>} */
  #saved = new Set();
  #announced = "";
  #wiped = "";
  /** The session is signed, and this tablet keeps nothing of it any more. */
  #over = false;
  #refreshing = false;
  #refreshedAt = performance.now();
  #synced = "";

  /** @param {HTMLFormElement} record @param {boolean} fromTablet @param {Kept} kept @param {string} dev */
  constructor(record, fromTablet, kept, dev) {
    this.record = record;
    this.fromTablet = fromTablet;
    this.staff = Number(record.dataset.staff);
    /** @type {Sheet} */
    this.sheet = JSON.parse(record.dataset.sheet ?? "{}");
    this.dev = dev;
    this.#takeLog(fromTablet ? kept.log : JSON.parse(record.dataset.log ?? "[]"));
    clock.jumps = kept.jumps;
    this.#resume(kept.base);
    const run = `r-${uuid7(Date.now()).slice(-12)}`;
    this.outbox = new Outbox(store, { session, staff: this.staff, dev, run }, {
      onReply: (reply) => this.#reply(reply),
      onSettled: (ids) => this.#settled(ids),
      onFound: (found) => this.#found(found),
      onChange: () => this.#showSync(),
      onSignedOut: () => this.gate.want(),
      onWiped: () => this.#storageCleared(),
      onOver: () => { this.#over = true; },
      base: () => clock.base,
    });
    this.gate = new Gate({ session, staff: this.staff, offline: () => this.outbox.isOffline(), onIn: (html) => this.#signedIn(html) });
    this.tablet = new Tablet(store, {
      rows: () => this.outbox.rows(),
      waiting: () => this.outbox.waiting(),
      running: () => this.known().phase() === "running",
    });
    this.kept = kept;
  }

  async start() {
    const place = document.getElementById("sync");
    // Never without words, not even until the tablet's store has answered.
    const opening = [make("span", { "aria-hidden": "true" }, "◐"), " opening"];
    place?.replaceChildren(make("button", { type: "button", class: "plain", id: "sync-says" }, ...opening));
    // What matters of it is said once, with the other messages.
    place?.setAttribute("aria-live", "off");
    place?.addEventListener("click", () => this.#syncTapped());
    document.getElementById("sums")?.addEventListener("toggle", (event) => closeLater(/** @type {HTMLDetailsElement} */ (event.target)));
    listen((button, moment) => this.#tap(button, moment));
    arrows();
    for (const kind of ["visibilitychange", "online", "pageshow"]) addEventListener(kind, () => this.#wake());
    document.addEventListener("visibilitychange", () => this.#wake());
    addEventListener("beforeunload", (event) => {
      if (this.outbox.rows().some((row) => !row.stored)) event.preventDefault();
    });
    setInterval(() => this.#tick(), 250);
    setInterval(() => this.#lookAround(), LOOK_MS);
    await this.outbox.start(this.kept.seq);
    this.#show();
    this.tablet.start();
    if (this.fromTablet) await this.#refresh();
    else await this.#keepPage();
  }

  known() {
    return new Known(this.#log, this.sheet);
  }

  /** @param {number | null} base */
  #resume(base) {
    const known = this.known();
    const { started, now } = this.record.dataset;
    if (base !== null) clock.resume(base, known.lastAtMs);
    else if (Number(started) > 0) clock.resume(Number(started) + Date.now() - Number(now), known.lastAtMs);
    else if (known.started !== null) clock.resume(known.started, known.lastAtMs);
  }

  /** Takes over the log that the service has; what it does not have yet stands after it. @param {Observation[]} log */
  #takeLog(log) {
    const theirs = new Set(log.map((one) => one.id));
    const ours = this.#log.filter((one) => !theirs.has(one.id));
    this.#saved = new Set([...this.#saved, ...theirs]);
    this.#log = [...log, ...ours];
  }

  /** @param {Observation[]} found by another page of this tablet, or kept from before */
  #found(found) {
    const known = new Set(this.#log.map((one) => one.id));
    const fresh = found.filter((one) => !known.has(one.id));
    if (fresh.length === 0) return;
    this.#log = [...this.#log, ...fresh];
    if (!clock.started) this.#resume(this.known().started);
    this.#show();
  }

  /** @param {string[]} ids */
  #settled(ids) {
    for (const id of ids) this.#saved.add(id);
  }

  /** Records the acts of one tap. What stands in for something corrected takes its time. @param {HTMLButtonElement} button @param {number} moment */
  #tap(button, moment) {
    /** @type {Act[]} */
    const acts = JSON.parse(button.value || "[]");
    if (acts.length === 0) return;
    clock.compare();
    const known = this.known();
    if (acts[0].kind === "started") clock.start(moment);
    let atMs = known.phase() === "ended" ? known.lastAtMs : clock.at(moment);
    const correctedAt = button.dataset.atMs;
    const wall = new Date(Date.now() - (performance.now() - moment));
    const observations = acts.map((act) => {
      const seen = { id: uuid7(wall.getTime()), seq: 0, at_ms: atMs, wall: wall.toISOString(), act };
      if (act.kind === "struck" && correctedAt !== undefined) atMs = Number(correctedAt);
      return seen;
    });
    this.#log = [...this.#log, ...observations];
    this.outbox.add(observations);
    for (const open of document.querySelectorAll("#record details[open]:not(#sums)")) open.removeAttribute("open");
    this.#show();
    this.#say(observations.map((one) => describe(one.act, this.sheet)).join(". "));
    this.tablet.pulse();
    if (acts.some((act) => act.kind === "started" || act.kind === "ended")) this.tablet.stayAwake();
  }

  #show() {
    const focused = document.activeElement?.id ?? "";
    const known = this.known();
    show(this.#log, known, clock.at(performance.now()), session);
    if (focused !== "" && document.activeElement?.id !== focused) this.#focus(focused);
    this.#showClock(known);
    this.#showSync();
  }

  /** Where a key press drew the pressed thing anew, the focus stays in its place. @param {string} id */
  #focus(id) {
    const instead = { strike: "bring-back", "bring-back": "strike", start: "end" }[id] ?? "not-seen";
    const place = document.getElementById(id) ?? document.getElementById(instead);
    place?.focus({ preventScroll: true });
  }

  /** One polite message a record. @param {string} text */
  #say(text) {
    const said = document.getElementById("said");
    if (said === null || text === "") return;
    // The same words twice are two messages.
    said.textContent = said.textContent === text ? `${text}\u00a0` : text;
  }

  /** @param {Known} known */
  #showClock(known) {
    const set = (/** @type {string} */ id, /** @type {string} */ text) => {
      const place = document.getElementById(id);
      if (place !== null && place.textContent !== text) place.textContent = text;
    };
    const now = known.phase() === "running" ? clock.at(performance.now()) : known.lastAtMs;
    const elapsed = Math.max(0, (known.pausedSince ?? now) - known.pausedMs);
    const over = elapsed - Number(this.record.dataset.allowedMs);
    set("clock", minutes(clock.started ? elapsed : 0));
    set("over", over > 0 ? `over +${minutes(over)}` : "");
    const paused = document.getElementById("paused");
    if (paused !== null) paused.hidden = known.pausedSince === null;
    const jump = clock.jumps.at(-1);
    set("jump", jump === undefined ? "" : `▲ clock changed or tablet slept at ${minutes(jump.at_ms)}`);
  }

  #tick() {
    if (clock.compare()) {
      const [jumps, base] = [clock.jumps, clock.base];
      this.#keep((kept) => ({ ...kept, jumps, base }));
    }
    const known = this.#cached();
    this.#showClock(known);
    // "Bring back" leaves its place after ten seconds.
    if (document.getElementById("bring-back") !== null) show(this.#log, known, clock.at(performance.now()), session);
    this.gate.tick();
    this.#showSync();
  }

  /** @type {{ log: Observation[], known: Known } | null} */
  #cache = null;

  #cached() {
    if (this.#cache?.log !== this.#log) this.#cache = { log: this.#log, known: this.known() };
    return this.#cache.known;
  }

  /** Word, shape and count; never a colour alone. */
  #showSync() {
    const place = document.getElementById("sync-says");
    if (place === null) return;
    const { shape, words } = this.outbox.state();
    const parts = [words];
    if (this.#wiped !== "") parts.push(this.#wiped);
    if (this.outbox.oldest() > OFFER_FILE_MS) parts.push("tap to save them as a file");
    if (this.tablet.screen !== "") parts.push("screen may go dark");
    if (this.tablet.offersUpdate()) parts.push("new version, tap");
    const text = parts.join(" · ");
    const asOf = document.getElementById("as-of");
    if (asOf !== null) asOf.hidden = !this.outbox.isOffline() && !this.fromTablet;
    if (this.#synced === `${shape}${text}`) return;
    const grave = shape === "▲" || shape === "○";
    if (grave !== /^[▲○]/.test(this.#synced) && this.#synced !== "") this.#say(words);
    this.#synced = `${shape}${text}`;
    place.replaceChildren(make("span", { "aria-hidden": "true" }, shape), ` ${text}`);
  }

  #syncTapped() {
    if (/signed out/.test(this.outbox.state().words)) this.gate.open();
    else this.tablet.open();
  }

  #wake() {
    if (document.visibilityState !== "visible") return;
    clock.compare();
    this.outbox.wake();
    this.tablet.stayAwake();
    if (this.fromTablet) this.#refresh();
  }

  /** Other pages, the disk, and whether the service is back. */
  async #lookAround() {
    await this.outbox.look();
    await this.outbox.heal();
    if (document.visibilityState === "visible" && navigator.onLine && this.#cached().phase() === "running") await this.outbox.beat();
    if (this.fromTablet && performance.now() - this.#refreshedAt > ASK_AGAIN_MS) await this.#refresh();
  }

  /** @param {import("./outbox.js").Reply} reply */
  #reply(reply) {
    const fresh = parseRecord(reply.fragment);
    if (fresh === null) return;
    const { count, hash } = reply.head;
    [this.record.dataset.count, this.record.dataset.head] = [String(count), hash];
    // The seen head stays here until sign-off, so that a record that was changed behind our back can be told.
    if (!reply.signed) this.#keep((kept) => ({ ...kept, count, head: hash }));
    this.#takeSums(fresh);
    // Another tablet of the same person wrote to the log too, or this page began without it.
    if (this.fromTablet || Number(fresh.dataset.own) !== this.#saved.size) this.#refresh();
  }

  /** @param {HTMLFormElement} fresh */
  #takeSums(fresh) {
    const [old, sums] = [document.getElementById("sums"), fresh.querySelector("#sums")];
    if (old === null || sums === null || old.innerText === /** @type {HTMLElement} */ (sums).innerText) return;
    const before = Number(/Proposed (\d+)/.exec(old.textContent ?? "")?.[1] ?? 0);
    const after = Number(/Proposed (\d+)/.exec(sums.textContent ?? "")?.[1] ?? 0);
    old.replaceChildren(...sums.childNodes);
    if (after > before) this.#say(`${document.getElementById("said")?.textContent ?? ""}. Proposed ${after}`);
  }

  /** Fetches the page anew and takes from it what only the service knows. */
  async #refresh() {
    if (this.#refreshing) return;
    this.#refreshing = true;
    this.#refreshedAt = performance.now();
    try {
      const answer = await fetch(location.pathname, { headers: { "made-by": String(this.staff) }, signal: AbortSignal.timeout(5_000) });
      const { pathname } = new URL(answer.url);
      if (answer.redirected && pathname === "/sign-in") this.gate.want();
      else if (answer.redirected && pathname.endsWith("/sheet")) await this.outbox.over(session);
      else if (answer.ok) this.#takePage(await answer.text());
    } catch {
      // Still no network: the next look asks again.
    }
    this.#refreshing = false;
  }

  /** @param {string} html */
  #takePage(html) {
    const fresh = parseRecord(html);
    if (fresh === null || Number(fresh.dataset.staff) !== this.staff) return;
    this.fromTablet = false;
    this.#takeLog(JSON.parse(fresh.dataset.log ?? "[]"));
    this.#takeSums(fresh);
    const [about, freshAbout] = [this.record.querySelector(".about"), fresh.querySelector(".about")];
    if (about !== null && freshAbout !== null) about.replaceChildren(...freshAbout.childNodes);
    if (!clock.started && Number(fresh.dataset.started) > 0) clock.resume(Number(fresh.dataset.started) + Date.now() - Number(fresh.dataset.now), 0);
    this.#show();
    this.#keepPage();
  }

  /** @param {string} html */
  #signedIn(html) {
    this.#takePage(html);
    this.outbox.wake();
  }

  /** Keeps what opens this page without a network: no name, no words of notes, no list of what was recorded. */
  async #keepPage() {
    const neutral = /** @type {HTMLFormElement} */ (this.record.cloneNode(true));
    neutral.removeAttribute("data-log");
    for (const part of [".about", ".lastline", ".sync"]) neutral.querySelector(part)?.replaceChildren();
    neutral.querySelector(".about")?.append(make("span", {}, "The name is with the service."));
    const log = this.#log.filter((one) => this.#saved.has(one.id)).map(withoutText);
    const page = neutral.outerHTML;
    const seq = this.outbox.high;
    await this.#keep((kept) => ({ ...kept, page, log, seq: Math.max(kept.seq, seq) }));
  }

  /** Changes what this tablet keeps of the session, as long as it keeps it. @param {(kept: Kept) => Kept} change */
  async #keep(change) {
    if (!this.#over) await store.change(session, this.staff, change).catch(() => undefined);
  }

  /** Somebody cleared this tablet's storage while the page was open. What the page holds goes back. */
  async #storageCleared() {
    this.#wiped = "storage was cleared here";
    this.#say("The storage of this tablet was cleared. What this page still held was put back.");
    await store.set("device", this.dev).catch(() => undefined);
    await this.#keepPage();
    this.#showSync();
  }
}

/** A list that was opened closes by itself: the candidate can see the tablet. @param {HTMLDetailsElement} details */
function closeLater(details) {
  if (details.open) setTimeout(() => details.removeAttribute("open"), SUMS_OPEN_MS);
}

/** This tablet's name, made up once. @returns {Promise<string>} */
async function deviceName() {
  const made = `tablet-${uuid7(Date.now()).slice(-12)}`;
  const kept = await store.setting("device").catch(() => made);
  if (typeof kept === "string") return kept;
  await store.set("device", made).catch(() => undefined);
  return made;
}

const found = await findRecord();
if (found !== null) {
  const { record, fromTablet } = found;
  const staff = Number(record.dataset.staff);
  const seen = await store.look(session, staff).catch(() => null);
  const kept = seen?.kept ?? { session, staff, seq: 0, base: null, jumps: [], page: "", log: [], count: 0, head: "" };
  await new Marking(record, fromTablet, kept, await deviceName()).start();
}
