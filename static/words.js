// @ts-check
/**
 * Acts in plain words, as `src/marking/words.rs` says them.
 *
 * @typedef {import("./known.js").Act} Act
 * @typedef {import("./known.js").Sheet} Sheet
 * @typedef {import("./known.js").Named} Named
 */

/** What a note says until it is put into words. */
export const NO_WORDS_YET = "To be put into words";

/** @type {Record<string, string>} */
const PARTS = {
  tips: "the tips", guards: "the finger guards", leads: "the leads", body: "the body", date: "the date",
  rating: "the rating", fit: "the fit",
};
/** @type {Record<string, string>} */
const PAUSES = { alarm: "alarm", equipment: "trouble with equipment", unwell: "unwell", other: "another reason" };
/** @type {Record<string, string>} */
const ENDS = { ...PAUSES, finished: "finished", unsafe: "it was unsafe to go on" };
/** @type {Record<string, string>} */
const PLACES = {
  kept: "kept in person", in_lock: "left in the lock", on_board: "left on the board", on_table: "left on the table",
  handed_over: "handed over",
};
/** @type {Record<string, string>} */
const PROVED = {
  proving_unit: "on a proving unit", known_live: "on a known live supply", tips_together: "with its tips together",
  self_test: "by its self-test", other: "in another way",
};
/** @type {Record<string, string>} */
const SHOWS = { all: "all shown", some: "only some shown", nothing: "nothing shown" };
/** @type {Record<string, string>} */
const READINGS = { none: "nothing shown", live: "live", tripped: "the RCD tripped, so live" };
/** @type {Record<string, string>} */
const STEPS = {
  live_part: "live part", wrong_device: "wrong device", unsafe_tool: "unsafe tool", at_height: "at height",
  unwell: "unwell", other: "another reason",
};
/** @type {Record<string, string>} */
const STRIKES = { mis_tap: "tapped by mistake", twice: "recorded twice", corrected: "corrected", other: "another reason" };
/** @type {Record<string, string>} */
const OUTCOMES = { met: "met", not_met: "not met", not_applicable: "not applicable" };

/** @param {string} part */
export function partWords(part) {
  return PARTS[part] ?? part;
}

/** What was seen, as a short sentence without a full stop. @param {Act} act @param {Sheet} sheet @returns {string} */
export function describe(act, sheet) {
  const label = (/** @type {Named[]} */ list, /** @type {string} */ id) => list.find((one) => one.id === id)?.label ?? id;
  const item = (id = act.item) => label(sheet.items, id);
  const circuit = () => label(sheet.circuits, act.circuit);
  const point = () => label(sheet.points, act.point);
  const both = (/** @type {Named[]} */ list, /** @type {string} */ id) => {
    const known = list.find((one) => one.id === id);
    return known === undefined ? id : `${id} (${known.label})`;
  };
  const device = () => both(sheet.devices, act.device);
  const wallSwitch = () => both(sheet.circuits.flatMap((one) => one.switches), act.switch);
  switch (act.kind) {
    case "started": return "Started";
    case "resumed": return "Clock started again";
    case "paused": return `Clock stopped: ${PAUSES[act.reason]}`;
    case "ended": return (act.reason ?? "finished") === "finished" ? "Ended" : `Ended: ${ENDS[act.reason]}`;
    case "identified": return `Found ${circuit()} on ${device()}`;
    case "source_listed": return `Named a supply: ${label(sheet.sources, act.source)}`;
    case "permission_asked": return "Asked for leave to switch off";
    case "permission_given": return "Was given leave";
    case "picked": return `Took ${item()}`;
    case "returned": return `Put back ${item()}`;
    case "inspected": return `Looked over ${partWords(act.part)} of ${item()}`;
    case "load_off": return `Took the load off ${circuit()}`;
    case "switched": return `Switched ${act.to} ${device()}`;
    case "fitted": return `Fitted ${item()} to ${device()}`;
    case "locked":
      return act.holds
        ? `Closed ${item()} on ${device()} and it holds`
        : `Closed ${item()} on ${device()}: not tried, or it did not hold`;
    case "posted": return `Hung ${item()} on ${device()}, ${act.filled ? "filled in" : "not filled in"}`;
    case "key": return `${item()} ${PLACES[act.place]}`;
    case "removed": return `Took ${item()} off ${device()}`;
    case "control_tried":
      return `Tried ${act.device === undefined ? wallSwitch() : device()}: ${act.result === "nothing" ? "nothing happened" : "it started"}`;
    case "proved": return `Proved ${item()} ${PROVED[act.on]}: ${SHOWS[act.shows]}`;
    case "opened": return `Opened ${point()}`;
    case "closed": return `Closed ${point()}`;
    case "lamp_out": return `Took the lamp out of ${point()}`;
    case "lamp_in": return `Put the lamp back in ${point()}`;
    case "operated": return `Threw ${wallSwitch()}`;
    case "tested": {
      const says = [`Tested ${act.first} then ${act.second}: ${READINGS[act.reading]}`];
      if (act.order_off === "first_first") says.push(`${act.first} came off first`);
      if (act.point !== sheet.point) says.push(`at ${point()}`);
      if (act.item !== undefined) says.push(`with ${item()}`);
      return says.join("; ");
    }
    case "touched": return `Touched a conductor at ${point()}`;
    case "declared": return `Said that ${circuit()} is isolated and proved dead`;
    case "ticked": return `Judged by eye: ${act.criterion}: ${OUTCOMES[act.outcome]}`;
    case "remark": return `Note: ${act.text}`;
    case "prompted": return "Was given help";
    case "stepped_in": return `Assessor stepped in: ${STEPS[act.reason]}`;
    case "unsure": return "An act was not seen well";
    case "view_blocked": return "View blocked";
    case "view_clear": return "View clear again";
    case "struck": return `An entry was taken back: ${STRIKES[act.reason]}`;
    default: return "Something was recorded";
  }
}
