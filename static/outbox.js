// @ts-check
/**
 * What the service has not acknowledged yet. A row leaves only when a reply names it accepted or duplicate; what is in
 * conflict or refused stays and is shown. Nothing here is ever dropped.
 *
 * @typedef {import("./known.js").Observation} Observation
 * @typedef {import("./store.js").Row} Row
 * @typedef {{ id: string | null, accepted?: number, duplicate?: number, conflict?: boolean, refused?: string }} Answer
 * @typedef {{ answers: Answer[], head: { count: number, hash: string }, now: number,
 *   high?: number | null, signed?: boolean, fragment: string }} Reply
 * @typedef {Row & { stored: boolean, failed: boolean }} Held  `stored`: the disk has it; `failed`: the disk did not take it
 * @typedef {{ onReply: (reply: Reply) => void, onSettled: (ids: string[]) => void, onFound: (found: Observation[]) => void,
 *   onChange: () => void, onSignedOut: () => void, onWiped: () => Promise<void>, onOver: () => void, base: () => number | null }} Ends
 * @typedef {{ session: string, staff: number, dev: string, run: string }} Place
 */

import { backOff, waitAsked } from "./retry.js";
import { CHANNEL, asRow } from "./store.js";

const MOST_AT_ONCE = 100;
const MOST_BYTES = 250_000;
const FIRST_WAIT_MS = 1_000;
const ANSWER_WITHIN_MS = 10_000;
/** A tablet with nothing to send says this often that it is in contact. */
const CONTACT_MS = 60_000;
/** One page of this tablet sends at a time. */
const SENDER = "baywitness-sender";

export class Outbox {
  /** @type {Map<string, Held>} */
  #rows = new Map();
  /** Rows of other people on this tablet: only their number. */
  #others = 0;
  #seq = 0;
  /** The highest number that this page saw stored; less on the disk means that somebody cleared it. */
  #mostStored = 0;
  /** What was acknowledged while this page was open. @type {Set<string>} */
  #done = new Set();
  #storing = Promise.resolve();
  /** Acknowledged rows that the disk could not let go of yet. @type {Held[]} */
  #unwritten = [];
  #busy = false;
  #again = false;
  #failures = 0;
  #notBefore = 0;
  #signedOut = false;
  #refusal = "";
  #batch = MOST_AT_ONCE;
  /** @type {number | null} */
  #trip = null;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #timer;
  /** When the service was last heard, or asked in vain, by the steady clock. */
  #askedAt = performance.now();
  #tabs = "BroadcastChannel" in globalThis ? new BroadcastChannel(CHANNEL) : null;

  /** @param {import("./store.js").Store} store @param {Place} place @param {Ends} ends */
  constructor(store, place, ends) {
    this.store = store;
    this.place = place;
    this.ends = ends;
    if (this.#tabs !== null) this.#tabs.onmessage = ({ data }) => (data === `over ${place.session},${place.staff}` ? this.#retire() : this.look());
  }

  /** The highest number given on this session. */
  get high() {
    return this.#seq;
  }

  /** Rows that still wait, in the order of recording. */
  rows() {
    return [...this.#rows.values()];
  }

  /** For how many milliseconds the oldest row has waited. */
  oldest() {
    return this.rows().reduce((most, row) => Math.max(most, Date.now() - row.made), 0);
  }

  waiting() {
    return this.#rows.size;
  }

  isOffline() {
    return this.#failures > 0;
  }

  /** Takes over what the tablet kept before this page was opened. @param {number} seq the highest number known so far */
  async start(seq) {
    this.#seq = seq;
    await this.look();
    this.send();
  }

  /** Keeps the observations of one tap, all or none, and sends. @param {Observation[]} observations */
  add(observations) {
    const { session, staff, dev, run } = this.place;
    const held = observations.map((observation) => {
      observation.seq = ++this.#seq;
      /** @type {Held} */
      const row = { session, staff, seq: 0, id: observation.id, dev, run, made: Date.now(), observation, trouble: null, stored: false, failed: false };
      this.#rows.set(row.id, row);
      return row;
    });
    this.ends.onChange();
    const atLeast = this.#seq - held.length;
    // In the order of taps, so that numbers follow it.
    this.#storing = this.#storing.then(() => this.#keep(held, atLeast));
    return this.#storing.then(() => this.send());
  }

  /** @param {Held[]} held @param {number} atLeast */
  async #keep(held, atLeast) {
    try {
      const numbers = await this.store.keep(held.map(asRow), this.ends.base(), atLeast);
      held.forEach((row, at) => {
        row.seq = row.observation.seq = numbers[at];
        row.stored = true;
        row.failed = false;
      });
      this.#seq = Math.max(this.#seq, ...numbers);
      if (held[0].session === this.place.session) this.#mostStored = Math.max(this.#mostStored, ...numbers);
      this.#tabs?.postMessage("kept");
    } catch {
      // The page still holds them, says so and sends them.
      for (const row of held) {
        row.seq = row.observation.seq;
        row.failed = true;
      }
    }
    this.ends.onChange();
  }

  /** Tries again to store what the disk did not take. */
  async heal() {
    const failed = this.rows().filter((row) => row.failed);
    if (failed.length > 0) await this.#keep(failed, 0);
    if (this.#unwritten.length > 0) await this.#write(this.#unwritten.splice(0), []);
  }

  /**
   * Compares with the disk: rows that other tabs made or settled, and storage that was cleared under our feet.
   */
  async look() {
    const { session, staff } = this.place;
    // What was there before looking: rows that are stored meanwhile are not missed.
    const stored = this.rows().filter((row) => row.stored);
    const mostStored = this.#mostStored;
    let seen;
    try {
      seen = await this.store.look(session, staff);
    } catch {
      return;
    }
    const { rows, kept } = seen;
    if ((kept?.seq ?? 0) < mostStored) {
      this.#mostStored = 0;
      if (stored.length > 0) await this.#keep(stored, this.#seq);
      await this.ends.onWiped();
      return;
    }
    const there = new Set(rows.map((row) => row.id));
    const settled = stored.filter((row) => !there.has(row.id) && this.#rows.has(row.id));
    for (const row of settled) this.#letGo(row);
    const mine = rows.filter((row) => row.staff === staff && !this.#done.has(row.id));
    const found = mine.filter((row) => !this.#rows.has(row.id));
    for (const row of found) this.#rows.set(row.id, { ...row, stored: true, failed: false });
    for (const row of mine) {
      const held = this.#rows.get(row.id);
      if (held !== undefined) held.trouble = row.trouble;
    }
    this.#others = rows.filter((row) => row.staff !== staff).length;
    this.#seq = Math.max(this.#seq, kept?.seq ?? 0);
    if (settled.length > 0) this.ends.onSettled(settled.map((row) => row.id));
    if (found.length > 0) this.ends.onFound(found.filter((row) => row.session === session).map((row) => row.observation));
    if (settled.length + found.length > 0) this.ends.onChange();
  }

  /** How things stand, as shape and words. */
  state() {
    const rows = this.rows();
    const count = rows.length;
    const others = this.#others > 0 ? ` · ${this.#others} of a colleague` : "";
    const failed = rows.filter((row) => row.failed).length;
    const troubled = this.troubled().length;
    if (failed > 0) return { shape: "▲", words: `${failed} not saved on tablet${others}` };
    if (troubled > 0) return { shape: "▲", words: `${troubled} refused, tap${others}` };
    if (this.#signedOut) return { shape: "▲", words: `signed out, ${count} saved on tablet${others}` };
    if (this.#refusal !== "" && count > 0) return { shape: "▲", words: `${this.#refusal}, ${count} saved on tablet${others}` };
    if (count === 0) return { shape: "●", words: `all saved${others}` };
    if (rows.some((row) => !row.stored)) return { shape: "◌", words: `saving ${count}${others}` };
    if (this.#failures > 0) return { shape: "○", words: `offline, ${count} saved on tablet${others}` };
    return { shape: "◐", words: `${count} saved on tablet${others}` };
  }

  /** What the service did not take. */
  troubled() {
    return this.rows().filter((row) => row.trouble !== null);
  }

  /** Somebody signed in, the network came back or the page was looked at: no more waiting than the service asked for. */
  wake() {
    this.#signedOut = false;
    this.send();
  }

  /** Sends what waits, one request at a time on this tablet. */
  async send() {
    if (this.#busy) {
      this.#again = true;
      return;
    }
    if (this.#sendable().length === 0) return;
    clearTimeout(this.#timer);
    const early = this.#notBefore - performance.now();
    if (early > 0) {
      this.#timer = setTimeout(() => this.send(), early);
      return;
    }
    this.#busy = true;
    this.#again = false;
    const wait = await this.#alone(() => this.#turn());
    this.#busy = false;
    this.ends.onChange();
    if (this.#sendable().length > 0) this.#timer = setTimeout(() => this.send(), this.#again ? Math.min(wait, FIRST_WAIT_MS) : wait);
  }

  /**
   * Says that this tablet is in contact, when nothing waits and nothing was asked for a minute. Without it, idle would
   * look like offline, and what is added from memory later like what came late. It also finds out that the sign-in ended.
   */
  async beat() {
    const waits = this.rows().some((row) => row.trouble === null);
    if (this.#busy || waits || performance.now() - this.#askedAt < CONTACT_MS) return;
    this.#busy = true;
    await this.#alone(() => this.#exchange([]));
    this.#busy = false;
    this.ends.onChange();
    if (this.#again) this.send();
  }

  #sendable() {
    return this.rows().filter((row) => row.trouble === null && (row.stored || row.failed));
  }

  /** @param {() => Promise<number>} turn */
  async #alone(turn) {
    if (navigator.locks === undefined) return turn();
    return navigator.locks.request(SENDER, { ifAvailable: true }, (lock) => (lock === null ? FIRST_WAIT_MS : turn()));
  }

  /** One request; answers after how many milliseconds the next may go. */
  async #turn() {
    await this.look();
    const batch = this.#next();
    return batch.length === 0 ? 0 : this.#exchange(batch);
  }

  /** @param {Held[]} batch of one session, device and page load; an empty one is a sign of life from this page */
  async #exchange(batch) {
    this.#askedAt = performance.now();
    try {
      const began = performance.now();
      const response = await fetch(`/sessions/${(batch[0] ?? this.place).session}/entries`, {
        method: "POST",
        headers: { "content-type": "application/json", "made-by": String(this.place.staff) },
        body: this.#body(batch),
        signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
      });
      if (!response.ok) return await this.#refused(response, batch);
      const reply = /** @type {Reply} */ (await response.json());
      this.#trip = Math.round(performance.now() - began);
      return await this.#settle(batch, reply);
    } catch {
      return this.#later(0);
    }
  }

  /** The rows of the next request: of one session and one page load, in their order. */
  #next() {
    const all = this.#sendable();
    const first = all.find((row) => row.session === this.place.session) ?? all[0];
    const batch = [];
    let bytes = 0;
    for (const row of all) {
      if (row.session !== first.session || row.run !== first.run || row.dev !== first.dev) continue;
      bytes += JSON.stringify(row.observation).length * 2;
      if (batch.length > 0 && bytes > MOST_BYTES) break;
      batch.push(row);
      if (batch.length >= this.#batch) break;
    }
    return batch.sort((a, b) => a.seq - b.seq);
  }

  /** @param {Held[]} batch */
  #body(batch) {
    const { dev, run, session } = batch[0] ?? this.place;
    const made = batch.map((row) => row.seq);
    const high = session === this.place.session && dev === this.place.dev ? Math.max(this.#seq, ...made) : Math.max(...made);
    const rtt = this.#trip === null ? {} : { rtt: this.#trip };
    return JSON.stringify({ dev, run, sent: Date.now(), ...rtt, high, observations: batch.map((row) => row.observation) });
  }

  /** @param {Response} response @param {Held[]} batch */
  async #refused(response, batch) {
    const { status } = response;
    if (status === 401) {
      this.#signedOut = true;
      this.ends.onSignedOut();
      return this.#later(0);
    }
    if (status === 413) return this.#tooLarge(batch);
    this.#refusal = status >= 400 && status < 500 && status !== 429 && status !== 408 ? `not taken (${status})` : "";
    return this.#later(waitAsked(response.headers.get("retry-after")));
  }

  /** Half as many the next time; one that is too large alone is listed. @param {Held[]} batch */
  async #tooLarge(batch) {
    if (batch.length === 0) return this.#later(0);
    if (batch.length > 1) {
      this.#batch = Math.max(1, Math.floor(batch.length / 2));
      return 0;
    }
    batch[0].trouble = "too large for the service";
    this.#batch = 8;
    await this.#write([], batch);
    return 0;
  }

  /** @param {Held[]} batch @param {Reply} reply */
  async #settle(batch, reply) {
    this.#failures = 0;
    this.#notBefore = 0;
    this.#refusal = "";
    this.#signedOut = false;
    const { session, dev } = batch[0] ?? this.place;
    const here = session === this.place.session;
    // The service may know of higher numbers than a tablet whose storage was cleared.
    if (here && dev === this.place.dev) this.#seq = Math.max(this.#seq, reply.high ?? 0);
    /** @type {Held[]} */
    const gone = [];
    /** @type {Held[]} */
    const troubled = [];
    batch.forEach((row, at) => {
      const answer = reply.answers?.[at];
      if (answer === undefined || answer.id !== row.id) return;
      if (answer.accepted !== undefined || answer.duplicate !== undefined) gone.push(row);
      else if (answer.conflict || answer.refused !== undefined) {
        row.trouble = answer.refused ?? "its name is taken by other content";
        troubled.push(row);
      }
    });
    if (batch.length > 0) await this.#write(gone, troubled);
    for (const row of gone) this.#letGo(row);
    this.ends.onSettled(gone.map((row) => row.id));
    if (here) this.ends.onReply(reply);
    if (reply.signed) await this.over(session);
    return batch.length > 0 && gone.length + troubled.length === 0 ? this.#later(0) : 0;
  }

  /** A session is signed: once nothing of it waits, what opens its page leaves this tablet. @param {string} session */
  async over(session) {
    const { staff } = this.place;
    if (this.rows().some((row) => row.session === session)) return;
    if (session === this.place.session) this.#retire();
    await this.store.tidy((one) => one.session === session && one.staff === staff).catch(() => undefined);
  }

  /** This page's session is kept no longer; that it is gone from the disk is no fault. */
  #retire() {
    this.#mostStored = 0;
    this.ends.onOver();
  }

  /** @param {Held} row */
  #letGo(row) {
    this.#rows.delete(row.id);
    this.#done.add(row.id);
  }

  /** @param {Held[]} gone @param {Held[]} troubled */
  async #write(gone, troubled) {
    try {
      await this.store.settle(gone.filter((row) => row.stored), troubled.map(asRow));
      this.#tabs?.postMessage("settled");
    } catch {
      // They stay on the disk for now. Sent again after a reload, they would be answered as duplicates.
      this.#unwritten.push(...gone);
    }
  }

  /** @param {number} asked by the service, in milliseconds */
  #later(asked) {
    this.#failures += 1;
    if (asked > 0) this.#notBefore = performance.now() + asked;
    return Math.max(asked, backOff(this.#failures, FIRST_WAIT_MS));
  }
}
