// @ts-check
/**
 * What the service has not acknowledged yet. It leaves only when a reply names it; nothing here is ever dropped.
 *
 * @typedef {import("./marking.js").Observation} Observation
 * @typedef {import("./marking.js").Reply} Reply
 * @typedef {{ address: () => string, onReply: (reply: Reply) => void, onChange: () => void }} Ends
 */

const MOST_AT_ONCE = 100;
const FIRST_WAIT_MS = 1_000;
const LONGEST_WAIT_MS = 60_000;

export class Outbox {
  /** @type {Observation[]} */
  #kept = [];
  /** Refused ones stay for a person to look at. @type {{ observation: Observation, why: string }[]} */
  #refused = [];
  #busy = false;
  #failures = 0;
  #signedOut = false;
  #batch = MOST_AT_ONCE;
  #trip = 0;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #timer;
  #dev = device();
  #run = `r-${Math.random().toString(36).slice(2, 12)}`;

  /** @param {Ends} ends */
  constructor(ends) {
    this.ends = ends;
  }

  /** @param {Observation[]} observations */
  keep(observations) {
    this.#kept.push(...observations);
    this.ends.onChange();
    this.send();
  }

  waiting() {
    return this.#kept.length;
  }

  /** How things stand, as shape and words. */
  state() {
    const count = this.#kept.length;
    if (this.#refused.length > 0) return { shape: "▲", words: `${this.#refused.length} refused: ${this.#refused[0].why}` };
    if (this.#signedOut) return { shape: "▲", words: `signed out, ${count} kept here` };
    if (count === 0) return { shape: "●", words: "all saved" };
    if (this.#failures > 0) return { shape: "○", words: `offline, ${count} kept here` };
    return { shape: "◐", words: `${count} waiting` };
  }

  async send() {
    if (this.#busy || this.#kept.length === 0) return;
    this.#busy = true;
    clearTimeout(this.#timer);
    const batch = this.#kept.slice(0, this.#batch);
    const wait = await this.#post(batch);
    this.#busy = false;
    this.ends.onChange();
    if (this.#kept.length > 0) this.#timer = setTimeout(() => this.send(), wait);
  }

  /** Sends a batch and answers after how many milliseconds to send again. @param {Observation[]} batch */
  async #post(batch) {
    const began = performance.now();
    try {
      const response = await fetch(this.ends.address(), {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify({ dev: this.#dev, run: this.#run, sent: Date.now(), trip: this.#trip, observations: batch }),
      });
      this.#signedOut = response.status === 401;
      if (response.status === 413) this.#batch = Math.max(1, Math.floor(this.#batch / 2));
      if (!response.ok) return this.#later(Number(response.headers.get("retry-after")) * 1000);
      const reply = /** @type {Reply} */ (await response.json());
      this.#trip = Math.round(performance.now() - began);
      this.#failures = 0;
      this.#settle(batch, reply);
      this.ends.onReply(reply);
      return 0;
    } catch {
      return this.#later(0);
    }
  }

  /** @param {Observation[]} batch @param {Reply} reply */
  #settle(batch, reply) {
    const done = new Set();
    batch.forEach((observation, at) => {
      const answer = reply.answers[at];
      if (answer === undefined || (answer.id !== null && answer.id !== observation.id)) return;
      if (answer.refused !== undefined || answer.conflict) {
        this.#refused.push({ observation, why: answer.refused ?? "its name is taken" });
      } else if (answer.accepted === undefined && answer.duplicate === undefined) {
        return;
      }
      done.add(observation.id);
    });
    this.#kept = this.#kept.filter((one) => !done.has(one.id));
  }

  /** Doubling with some chance in it, so that tablets do not all come back at once. @param {number} asked */
  #later(asked) {
    this.#failures += 1;
    const doubled = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** (this.#failures - 1));
    return Math.max(asked || 0, doubled * (0.75 + Math.random() / 2));
  }
}

/** A name for this tablet, made up once. */
function device() {
  const made = `tablet-${Math.random().toString(36).slice(2, 12)}`;
  try {
    const kept = localStorage.getItem("device") ?? made;
    localStorage.setItem("device", kept);
    return kept;
  } catch {
    return made;
  }
}
