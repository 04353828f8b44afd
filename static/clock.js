// @ts-check
/**
 * Session time. It runs by the steady clock; the wall clock only bridges a reload. Where the two part by more than two
 * seconds, the tablet slept or somebody set its clock: both times go with each observation, and the page says so.
 *
 * @typedef {import("./store.js").Jump} Jump
 */

const TOLERATED_MS = 2_000;

export class SessionClock {
  /** The steady clock's time at session time 0. @type {number | null} */
  #startedAt = null;
  #apart = Date.now() - performance.now();
  /** @type {Jump[]} */
  jumps = [];

  /** Wall time at session time 0 by this tablet, or null before the start. */
  get base() {
    return this.#startedAt === null ? null : Math.round(this.#startedAt + this.#apart);
  }

  get started() {
    return this.#startedAt !== null;
  }

  /** @param {number} moment of the steady clock */
  start(moment) {
    this.#startedAt = moment;
  }

  /** Takes up again after a reload. @param {number} base wall time at session time 0 @param {number} lastAtMs never before it */
  resume(base, lastAtMs) {
    this.#startedAt = performance.now() - Math.max(Date.now() - base, lastAtMs);
  }

  /** Session time at a moment of the steady clock, in whole milliseconds. @param {number} moment */
  at(moment) {
    return this.#startedAt === null ? 0 : Math.max(0, Math.round(moment - this.#startedAt));
  }

  /** Looks whether wall and steady clock have parted; answers whether they have. */
  compare() {
    const apart = Date.now() - performance.now();
    const step = Math.round(apart - this.#apart);
    if (Math.abs(step) <= TOLERATED_MS) return false;
    this.#apart = apart;
    this.jumps.push({ at_ms: this.at(performance.now()), step });
    return true;
  }
}
