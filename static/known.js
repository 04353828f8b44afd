// @ts-check
/**
 * What a log says so far, as the tiles need it. It judges nothing. The service works the same out when it makes the page
 * (`src/web/marking/state.rs`); a browser test holds the two together.
 *
 * @typedef {{ kind: string, [field: string]: any }} Act
 * @typedef {{ id: string, seq: number, at_ms: number, wall: string, act: Act }} Observation
 * @typedef {{ id: string, label: string }} Named
 * @typedef {Named & { switches: Named[] }} Circuit
 * @typedef {Named & { feeds: string | null }} Device
 * @typedef {Named & { hand: "instrument" | "lock_off" | "padlock" | "notice" | null, key: string | null }} Item
 * @typedef {Named & { lamp: boolean, pairs: [string, string][] }} Point
 * @typedef {{ circuit: string, device: string, point: string, parts: string[], rounds: number, circuits: Circuit[],
 *   devices: Device[], off: string[], items: Item[], points: Point[], sources: Named[] }} Sheet
 * @typedef {{ first: string, second: string, round: number, reading: string, unsure: boolean }} Tested
 */

/** What was put on a device, with the device. @typedef {[item: string, device: string]} PutOn */

export class Known {
  /** Milliseconds since 1970 at which the attempt began. @type {number | null} */
  started = null;
  /** The `ended` that stands. @type {string | null} */
  ended = null;
  pausedMs = 0;
  /** @type {number | null} */
  pausedSince = null;
  lastAtMs = 0;
  off = new Set();
  lastOff = "";
  taken = new Set();
  lastItem = "";
  /** What was last taken of each sort. @type {Record<string, string>} */
  hand = {};
  /** In the order of putting on. @type {PutOn[]} */
  on = [];
  open = "";
  lampOut = new Set();
  /** @type {Map<string, number>} */
  thrown = new Map();
  round = 0;
  /** @type {Tested[]} */
  tests = [];
  viewBlocked = false;
  /** When an act of a kind was last seen, and how often. @type {Record<string, [number, number]>} */
  seen = {};

  /** @param {Observation[]} log in the order of recording @param {Sheet} sheet */
  constructor(log, sheet) {
    this.sheet = sheet;
    for (const id of sheet.off ?? []) this.off.add(id);
    const stands = standing(log);
    const doubted = new Set(stands.filter((one) => one.act.kind === "unsure").map((one) => one.act.observation));
    for (const one of stands) this.#take(one, doubted.has(one.id));
  }

  phase() {
    if (this.started === null) return "before";
    return this.ended === null ? "running" : "ended";
  }

  /** The point that tests are made at. */
  point() {
    return this.open || this.sheet.point;
  }

  /** The device that is being secured. */
  device() {
    return this.lastOff || this.sheet.device;
  }

  /** @param {string} id */
  item(id) {
    return this.sheet.items.find((item) => item.id === id);
  }

  /** @param {string} kind @param {number} atMs */
  #note(kind, atMs) {
    this.seen[kind] = [atMs, (this.seen[kind]?.[1] ?? 0) + 1];
  }

  /** @param {string} kind @param {Act} act @param {number} atMs */
  #putOn(kind, act, atMs) {
    this.on = [...this.on.filter(([worn]) => worn !== act.item), [act.item, act.device]];
    this.#note(kind, atMs);
  }

  /** @param {string} id */
  #pick(id) {
    this.taken.add(id);
    this.lastItem = id;
    const hand = this.item(id)?.hand;
    if (hand) this.hand[hand] = id;
  }

  /** @param {Observation} seen @param {boolean} unsure */
  #take(seen, unsure) {
    const { act, at_ms: atMs } = seen;
    this.lastAtMs = Math.max(this.lastAtMs, atMs);
    switch (act.kind) {
      case "started": this.started = Date.parse(seen.wall); break;
      case "ended": this.ended = seen.id; break;
      case "paused": this.pausedSince = atMs; break;
      case "resumed":
        this.pausedMs += Math.max(0, atMs - (this.pausedSince ?? atMs));
        this.pausedSince = null;
        break;
      case "switched":
        if (act.to === "off") {
          this.off.add(act.device);
          this.lastOff = act.device;
        } else this.off.delete(act.device);
        break;
      case "picked": this.#pick(act.item); break;
      case "returned": this.taken.delete(act.item); break;
      case "view_blocked": this.viewBlocked = true; break;
      case "view_clear": this.viewBlocked = false; break;
      default: this.#takeWork(act, atMs, unsure);
    }
  }

  /** @param {Act} act @param {number} atMs @param {boolean} unsure */
  #takeWork(act, atMs, unsure) {
    switch (act.kind) {
      case "opened": this.open = act.point; break;
      case "closed": this.open = ""; break;
      case "lamp_out": this.lampOut.add(act.point); break;
      case "lamp_in": this.lampOut.delete(act.point); break;
      case "operated":
        this.thrown.set(act.switch, (this.thrown.get(act.switch) ?? 0) + 1);
        this.round += 1;
        break;
      case "tested": {
        const { first, second, reading } = act;
        this.tests.push({ first, second, reading, round: this.round, unsure });
        break;
      }
      case "permission_given": this.#note("permission", atMs); break;
      case "fitted": case "locked": case "posted": this.#putOn(act.kind, act, atMs); break;
      case "removed":
        this.on = this.on.filter(([worn]) => worn !== act.item);
        this.#note("removed", atMs);
        break;
      default: this.#note(act.kind, atMs);
    }
  }
}

/** The observations that were taken back. @param {Observation[]} log @returns {Set<string>} */
export function struck(log) {
  const gone = new Set();
  // A strike names something earlier, so that read from the end each strike is known to stand or not.
  for (let at = log.length - 1; at >= 0; at -= 1) {
    const { id, act } = log[at];
    if (act.kind === "struck" && !gone.has(id)) gone.add(act.observation);
  }
  return gone;
}

/** Those that stand, in the order of their times. @param {Observation[]} log */
function standing(log) {
  const gone = struck(log);
  return log.filter((one) => !gone.has(one.id)).sort((a, b) => a.at_ms - b.at_ms || a.seq - b.seq);
}

/** Session time as minutes and seconds; hours in front from one on. @param {number} ms */
export function minutes(ms) {
  const seconds = Math.floor(ms / 1000);
  const two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  const [h, m, s] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60];
  return h > 0 ? `${h}:${two(m)}:${two(s)}` : `${two(m)}:${two(s)}`;
}
