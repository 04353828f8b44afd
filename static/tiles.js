// @ts-check
/**
 * What each tile says and would record next, as `src/web/marking/tiles.rs` makes them. None says whether it is right.
 *
 * @typedef {import("./known.js").Act} Act
 * @typedef {import("./known.js").Known} Known
 * @typedef {import("./known.js").Tested} Tested
 * @typedef {{ label: string, state: string, acts: Act[], marked: boolean }} Tile
 * @typedef {{ name: string, low: Tile, high: Tile }} Pair
 * @typedef {[shape: string, word: string]} Cell
 */

import { minutes } from "./known.js";
import { NO_WORDS_YET } from "./words.js";

/** Pairs beyond which the tiles carry the marks of the rounds as well. */
const PAIRS_BESIDE_TABLE = 3;
/** How dangerous a conductor is: earth, neutral, any line. @param {string} conductor */
const danger = (conductor) => ({ E: 0, N: 1 })[conductor] ?? 2;

/** @param {string} label @param {Act[]} acts @param {string} [state] @param {boolean} [marked] @returns {Tile} */
const tile = (label, acts, state = "", marked = false) => ({ label, state, acts, marked });

/** @param {Known} known @returns {Tile[]} */
export function items(known) {
  return known.sheet.items.map(({ id, label }) => {
    const taken = known.taken.has(id);
    const word = taken ? (known.lastItem === id ? "in hand" : "taken") : "";
    return tile(label, [{ kind: "picked", item: id }], word, taken);
  });
}

/** @param {Known} known @returns {Tile[]} */
export function devices(known) {
  return known.sheet.devices.map(({ id, label }) => {
    const off = known.off.has(id);
    const act = { kind: "switched", device: id, to: off ? "on" : "off" };
    return tile(`${id} ${label}`, [act], off ? "OFF" : "ON", off);
  });
}

/** @param {Known} known @returns {Tile[]} */
export function switches(known) {
  const circuit = known.sheet.circuits.find((one) => one.id === known.sheet.circuit);
  return (circuit?.switches ?? []).map(({ id, label }) => {
    const thrown = (known.thrown.get(id) ?? 0) % 2 === 1;
    return tile(`${id} ${label}`, [{ kind: "operated", switch: id }], thrown ? "thrown" : "as found", thrown);
  });
}

/** Rounds as head and rows of cells. @param {Known} known */
export function rounds(known) {
  const count = Math.max(Math.min(Math.max(known.sheet.rounds, 1), 12), known.round + 1);
  const heads = Array.from({ length: count }, (_, round) => ({ number: round + 1, now: round === known.round }));
  const point = known.sheet.points.find((one) => one.id === known.point());
  const rows = (point?.pairs ?? []).map(([low, high]) => ({
    pair: `${low}–${high}`,
    cells: heads.map((_, round) => cell(known.tests.filter((test) => test.round === round && of(test, low, high)).at(-1))),
  }));
  return { heads, rows };
}

/** @param {Tested} test @param {string} low @param {string} high */
function of(test, low, high) {
  return (test.first === low && test.second === high) || (test.first === high && test.second === low);
}

/** @param {Tested | undefined} test @returns {Cell} */
function cell(test) {
  if (test === undefined) return ["", "not tested"];
  if (test.unsure) return ["?", "not seen"];
  if (test.reading !== "none") return ["●", "live"];
  return danger(test.first) > danger(test.second) ? ["▲", "other order"] : ["✓", "dead"];
}

/** @param {Known} known @returns {Pair[]} */
export function pairs(known) {
  const { rows } = rounds(known);
  const point = known.sheet.points.find((one) => one.id === known.point());
  const test = (/** @type {string} */ first, /** @type {string} */ second, state = "") =>
    tile(`${first} then ${second}`, [{ kind: "tested", point: known.point(), first, second, reading: "none" }], state);
  return (point?.pairs ?? []).map(([low, high], at) => {
    const marks = rows[at].cells.map(([shape]) => shape).filter((shape) => shape !== "");
    const many = rows.length > PAIRS_BESIDE_TABLE;
    return { name: rows[at].pair, low: test(low, high, many ? marks.join(" ") : ""), high: test(high, low) };
  });
}

/** The acts, each in its fixed place. @param {Known} known @returns {Tile[]} */
export function acts(known) {
  const { circuit, device } = known.sheet;
  const { lock_off: lockOff, padlock, notice, instrument } = known.hand;
  const on = { device: known.device() };
  const key = known.item(padlock)?.key;
  const point = known.point();
  return [
    done(known, "permission", tile("Asks leave", [{ kind: "permission_asked", circuit }, { kind: "permission_given", circuit }])),
    done(known, "identified", tile("Finds circuit", [{ kind: "identified", circuit, device }])),
    known.lastItem === ""
      ? tile("Looks over", [], "take an item")
      : done(known, "inspected", tile("Looks over", lookedOver(known, known.lastItem))),
    withItem(known, "Proves", "proved", "take an indicator", instrument, { on: "proving_unit", shows: "all" }),
    withItem(known, "Fits lock-off", "fitted", "take a lock-off", lockOff, on),
    withItem(known, "Locks", "locked", "take a padlock", padlock, { ...on, holds: true }),
    withItem(known, "Hangs notice", "posted", "take a notice", notice, { ...on, filled: true }),
    withItem(known, "Key kept", "key", "take a padlock", key, { place: "kept" }),
    takesOff(known),
    known.open === ""
      ? tile("Opens point", [{ kind: "opened", point: known.sheet.point }], "closed")
      : tile("Closes point", [{ kind: "closed", point: known.open }], "open", true),
    lamp(known, point),
    done(known, "touched", tile("Touches", [{ kind: "touched", point }])),
    done(known, "declared", tile("Declares", [{ kind: "declared", circuit }])),
    done(known, "remark", tile("Note", [{ kind: "remark", text: NO_WORDS_YET }])),
  ];
}

/** Puts the minute at which an act was last seen on its tile. @param {Known} known @param {string} kind @param {Tile} one */
function done(known, kind, one) {
  const [atMs, times] = known.seen[kind] ?? [0, 0];
  if (times === 0) return one;
  return { ...one, state: times === 1 ? minutes(atMs) : `×${times} ${minutes(atMs)}` };
}

/**
 * @param {Known} known @param {string} label @param {string} kind @param {string} needs
 * @param {string | null | undefined} item @param {object} rest
 */
function withItem(known, label, kind, needs, item, rest) {
  if (!item) return tile(label, [], needs);
  return done(known, kind, tile(label, [{ kind, item, ...rest }]));
}

/** The acts of looking an item over. @param {Known} known @param {string} item @returns {Act[]} */
export function lookedOver(known, item) {
  const parts = known.item(item)?.hand === "instrument" ? known.sheet.parts : ["fit"];
  return parts.map((part) => ({ kind: "inspected", item, part }));
}

/** Takes off what was put on last. @param {Known} known */
function takesOff(known) {
  const last = known.on.at(-1);
  if (last === undefined) return tile("Takes off", [], "nothing on yet");
  return done(known, "removed", tile("Takes off", [{ kind: "removed", item: last[0], device: last[1] }]));
}

/** @param {Known} known @param {string} point */
function lamp(known, point) {
  if (!known.sheet.points.find((one) => one.id === point)?.lamp) return tile("Lamp out", [], "no lamp here");
  return known.lampOut.has(point)
    ? tile("Lamp in", [{ kind: "lamp_in", point }], "out", true)
    : tile("Lamp out", [{ kind: "lamp_out", point }], "in");
}

/** Rare acts, in groups. @param {Known} known @returns {{ title: string, tiles: Tile[] }[]} */
export function rare(known) {
  const { sheet } = known;
  const device = known.device();
  const pause = (/** @type {string} */ reason) => tile(`Stop the clock: ${reason}`, [{ kind: "paused", reason }]);
  const tried = (/** @type {string} */ label, /** @type {object} */ what, /** @type {string} */ result) =>
    tile(label, [{ kind: "control_tried", ...what, result }]);
  const first = switches(known)[0]?.acts[0].switch;
  const groups = [
    {
      title: "Clock and view",
      tiles: [
        ...(known.pausedSince === null
          ? ["alarm", "equipment", "unwell", "other"].map(pause)
          : [tile("Start the clock again", [{ kind: "resumed" }])]),
        known.viewBlocked ? tile("View clear again", [{ kind: "view_clear" }]) : tile("View blocked", [{ kind: "view_blocked" }]),
        tile("I gave help", [{ kind: "prompted" }]),
      ],
    },
    {
      title: "Before switching",
      tiles: [
        tile("Takes the load off", [{ kind: "load_off", circuit: sheet.circuit }]),
        ...sheet.sources.map(({ id, label }) => tile(`Names ${label}`, [{ kind: "source_listed", source: id }])),
      ],
    },
    {
      title: "Tries what was isolated",
      tiles: [
        tried(`Tries ${device}: nothing`, { device }, "nothing"),
        tried(`Tries ${device}: it starts`, { device }, "started"),
        ...(first === undefined ? [] : [
          tried(`Tries ${first}: nothing`, { switch: first }, "nothing"),
          tried(`Tries ${first}: it lights`, { switch: first }, "started"),
        ]),
      ],
    },
    {
      title: "Other points",
      tiles: sheet.points.filter((one) => one.id !== known.point())
        .map(({ id, label }) => tile(`Opens ${label}`, [{ kind: "opened", point: id }])),
    },
    {
      title: "Other switches",
      tiles: sheet.circuits.filter((one) => one.id !== sheet.circuit).flatMap((one) => one.switches)
        .map(({ id, label }) => tile(`${id} ${label}`, [{ kind: "operated", switch: id }])),
    },
  ];
  return groups.filter((group) => group.tiles.length > 0);
}
