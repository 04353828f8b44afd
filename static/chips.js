// @ts-check
/**
 * The last line: what was recorded last and, one tap away, what it may have been instead; as `src/web/marking/chips.rs`
 * makes it.
 *
 * @typedef {import("./known.js").Act} Act
 * @typedef {import("./known.js").Observation} Observation
 * @typedef {import("./known.js").Known} Known
 * @typedef {{ label: string, acts: Act[], atMs?: number }} Chip
 * @typedef {{ label: string, options: Chip[] }} Menu
 * @typedef {{ number: number, says: string, minute: string, chips: Chip[], menus: Menu[], rarely: Chip[], notSeen: Chip,
 *   strike: Chip, note: Observation | null }} Last
 */

import { minutes, struck } from "./known.js";
import { lookedOver } from "./tiles.js";
import { NO_WORDS_YET, describe, partWords } from "./words.js";

/** @param {string} observation @param {string} reason @returns {Act} */
export const strikeOf = (observation, reason) => ({ kind: "struck", observation, reason });

/** Whether an act is about the record rather than about the candidate. @param {Act} act */
const aboutRecord = (act) => ["struck", "unsure", "ticked", "started"].includes(act.kind);

/** The last line of a log that has begun. @param {Observation[]} log @param {Known} known @returns {Last | null} */
export function last(log, known) {
  const gone = struck(log);
  const stands = log.filter((one) => !gone.has(one.id) && !aboutRecord(one.act));
  const seen = stands.at(-1);
  if (seen === undefined) return null;
  const tap = stands.filter((one) => one.at_ms === seen.at_ms);
  const { chips, menus } = offers(seen, tap, known);
  return {
    number: seen.seq,
    says: tap.map((one) => describe(one.act, known.sheet)).join(". "),
    minute: minutes(seen.at_ms),
    chips,
    menus,
    rarely: rarely(seen),
    notSeen: { label: "Not seen", acts: [{ kind: "unsure", observation: seen.id }] },
    strike: { label: "Strike", acts: tap.map((one) => strikeOf(one.id, "mis_tap")) },
    note: seen.act.kind === "remark" ? seen : null,
  };
}

/** Undoes the strikes that were recorded last; null where the last record is none. @param {Observation[]} log @returns {Chip | null} */
export function bringBack(log) {
  const newest = log.at(-1);
  const strikes = [];
  for (let at = log.length - 1; at >= 0; at -= 1) {
    const { act, at_ms: atMs, id } = log[at];
    if (act.kind !== "struck" || act.reason !== "mis_tap" || atMs !== newest?.at_ms) break;
    strikes.push(strikeOf(id, "other"));
  }
  return strikes.length === 0 ? null : { label: "Bring back", acts: strikes };
}

/** Strikes an observation and puts another act in its place and time. @param {Observation} seen @param {string} label @param {Act} act @returns {Chip} */
export function instead(seen, label, act) {
  return { label, acts: [strikeOf(seen.id, "corrected"), act], atMs: seen.at_ms };
}

/** @param {Observation} seen @param {Observation[]} tap @param {Known} known @returns {{ chips: Chip[], menus: Menu[] }} */
function offers(seen, tap, known) {
  const { act } = seen;
  const { sheet } = known;
  const other = (/** @type {string} */ label, /** @type {object} */ change) => instead(seen, label, { ...act, ...change });
  const menu = (/** @type {string} */ label, /** @type {Chip[]} */ options) => (options.length === 0 ? [] : [{ label, options }]);
  const devices = (/** @type {string} */ label, change = (/** @type {string} */ device, /** @type {string | null} */ _feeds) => ({ device })) =>
    menu(label, sheet.devices.filter((one) => one.id !== act.device)
      .map((one) => other(`${one.id} ${one.label}`, change(one.id, one.feeds))));
  const instruments = () => menu("Other item", sheet.items.filter((one) => one.hand === "instrument" && one.id !== act.item)
    .map((one) => other(one.label, { item: one.id })));
  const reasons = (/** @type {[string, string][]} */ list) =>
    list.filter(([, reason]) => reason !== (act.reason ?? "finished")).map(([label, reason]) => other(label, { reason }));
  switch (act.kind) {
    case "tested": return { chips: ofTest(seen), menus: instruments() };
    case "proved": return ofProof(seen, instruments());
    case "operated": return { chips: [{ label: "Thrown back", acts: [{ kind: "operated", switch: act.switch }] }], menus: [] };
    case "picked":
      return {
        chips: [
          { label: "Puts back", acts: [{ kind: "returned", item: act.item }] },
          { label: "Looks over", acts: lookedOver(known, act.item) },
        ],
        menus: [],
      };
    case "inspected": {
      const parts = tap.filter((one) => one.act.kind === "inspected");
      return { chips: parts.map((one) => ({ label: `Not ${partWords(one.act.part)}`, acts: [strikeOf(one.id, "corrected")] })), menus: [] };
    }
    case "permission_given": return { chips: [{ label: "Not given", acts: [strikeOf(seen.id, "corrected")] }], menus: [] };
    case "identified": return { chips: [], menus: devices("Other…", (device, feeds) => ({ device, circuit: feeds ?? act.circuit })) };
    case "fitted": return { chips: [], menus: devices("Other device") };
    case "locked": return { chips: [other(act.holds ? "Not tried, or slips" : "Holds", { holds: !act.holds })], menus: devices("Other device") };
    case "posted": return { chips: [other(act.filled ? "Not filled in" : "Filled in", { filled: !act.filled })], menus: devices("Other place") };
    case "key": {
      const places = [["In lock", "in_lock"], ["On board", "on_board"], ["On table", "on_table"], ["Handed over", "handed_over"]];
      return { chips: places.filter(([, place]) => place !== act.place).map(([label, place]) => other(label, { place })), menus: [] };
    }
    case "declared":
      return { chips: [], menus: menu("Other…", sheet.circuits.filter((one) => one.id !== act.circuit).map((one) => other(one.label, { circuit: one.id }))) };
    case "stepped_in":
      return {
        chips: reasons([["Live part", "live_part"], ["Unsafe tool", "unsafe_tool"]]),
        menus: menu("More…", reasons([["Unwell", "unwell"], ["Wrong device", "wrong_device"], ["At height", "at_height"]])),
      };
    case "ended":
      return {
        chips: [],
        menus: menu("Ended because…", reasons([["Finished", "finished"], ["Unsafe to go on", "unsafe"], ["Alarm", "alarm"],
          ["Equipment", "equipment"], ["Unwell", "unwell"]])),
      };
    case "remark": {
      const ready = ["Work at height", "Tools and leads", "Around the board", "Asked to hear it again"];
      return { chips: ready.map((text) => instead(seen, text, { kind: "remark", text })), menus: [] };
    }
    default: return { chips: [], menus: [] };
  }
}

/** @param {Observation} seen @returns {Chip[]} */
function ofTest(seen) {
  const { act } = seen;
  const firstOff = act.order_off === "first_first";
  const { order_off: _, ...plain } = act;
  return [
    instead(seen, `${firstOff ? act.second : act.first} off first`, firstOff ? plain : { ...act, order_off: "first_first" }),
    instead(seen, act.reading === "none" ? "Reads live" : "Reads nothing", { ...act, reading: act.reading === "none" ? "live" : "none" }),
  ];
}

/** A test that tripped the RCD: live, but rare. @param {Observation} seen @returns {Chip[]} */
function rarely(seen) {
  if (seen.act.kind !== "tested" || seen.act.reading === "tripped") return [];
  return [instead(seen, "The RCD trips", { ...seen.act, reading: "tripped" })];
}

/** @param {Observation} seen @param {Menu[]} instruments */
function ofProof(seen, instruments) {
  const { act } = seen;
  const ways = [["Proving unit", "proving_unit"], ["Known live", "known_live"], ["Tips together", "tips_together"]];
  const shows = [["Shows all", "all"], ["Shows some", "some"], ["Shows nothing", "nothing"]];
  const shown = shows.filter(([, one]) => one !== act.shows).map(([label, one]) => instead(seen, label, { ...act, shows: one }));
  return {
    chips: ways.filter(([, on]) => on !== act.on).map(([label, on]) => instead(seen, label, { ...act, on })),
    menus: [{ label: "Shows…", options: shown }, ...instruments],
  };
}

/** Whether a note still waits for its words. @param {Act} act */
export const isWordless = (act) => act.kind === "remark" && act.text === NO_WORDS_YET;
