// @ts-check
/**
 * Writes what is known on the page. Elements stay where they are; only what changed is touched.
 *
 * @typedef {import("./tiles.js").Tile} Tile
 * @typedef {import("./chips.js").Chip} Chip
 * @typedef {import("./known.js").Observation} Observation
 */

import { Known, minutes, struck } from "./known.js";
import * as tiles from "./tiles.js";
import { bringBack, instead, isWordless, last, strikeOf } from "./chips.js";
import { describe } from "./words.js";
import { rove } from "./taps.js";

/** How long a strike can be undone in its own place. */
const BRING_BACK_MS = 10_000;
const SOFT_HYPHEN = /\u00ad/g;

/** What was last written to an element. @type {WeakMap<Element, string>} */
const written = new WeakMap();

/** @param {string} tag @param {Record<string, string | undefined>} attributes @param {...(Node | string)} children */
export function make(tag, attributes, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) if (value !== undefined) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

/** @param {Element} element @param {unknown} content @returns {boolean} whether it differs from what was written last */
function differs(element, content) {
  const key = JSON.stringify(content);
  if (written.get(element) === key) return false;
  written.set(element, key);
  return true;
}

/** @param {string} selector @returns {HTMLElement | null} */
const find = (selector) => document.querySelector(`#record ${selector}`);

/** Draws the whole record. @param {Observation[]} log @param {Known} known @param {number} now session time @param {string} session */
export function show(log, known, now, session) {
  const live = known.phase() === "running";
  showEdge(known, session);
  const stepIn = document.getElementById("step-in");
  if (stepIn instanceof HTMLButtonElement) stepIn.disabled = !live;
  block(".items", tiles.items(known), live);
  block(".acts", tiles.acts(known), live);
  block(".switches", tiles.switches(known), live);
  block(".board", tiles.devices(known), live);
  showPairs(known, live);
  showRounds(known);
  showLastLine(log, known, now);
  for (const group of document.querySelectorAll("#record [role=group]")) rove(group);
}

/** Start, End or the way on, in one place. @param {Known} known @param {string} session */
function showEdge(known, session) {
  const topline = find(".topline");
  const old = topline?.firstElementChild;
  if (topline === null || !old || !differs(topline, known.phase())) return;
  const phase = known.phase();
  const fresh = phase === "ended"
    ? make("a", { class: "tile go", href: `/sessions/${session}/decide` }, make("span", { class: "label" }, document.getElementById("record")?.dataset.wayOn ?? "Decide"))
    : make("button", { class: "tile", name: "acts", "data-place": "edge" });
  if (phase !== "ended") {
    const act = phase === "before" ? { kind: "started" } : { kind: "ended" };
    fresh.id = phase === "before" ? "start" : "end";
    write(/** @type {HTMLButtonElement} */ (fresh), { label: phase === "before" ? "Start" : "End", state: "", acts: [act], marked: false }, true);
  }
  old.replaceWith(fresh);
}

/** @param {string} selector @param {Tile[]} list @param {boolean} live */
function block(selector, list, live) {
  const buttons = /** @type {HTMLButtonElement[]} */ ([...(find(selector)?.querySelectorAll("button.tile") ?? [])]);
  buttons.forEach((button, at) => {
    if (list[at] !== undefined) write(button, list[at], live);
  });
}

/** @param {HTMLButtonElement} button @param {Tile} tile @param {boolean} live */
export function write(button, tile, live) {
  if (!differs(button, [tile, live])) return;
  button.value = JSON.stringify(tile.acts);
  button.disabled = !live || tile.acts.length === 0;
  button.toggleAttribute("data-marked", tile.marked);
  let label = button.querySelector(".label");
  if (label === null) button.prepend(label = make("span", { class: "label" }));
  // Labels from the service may hold places to break a long word.
  const full = label.querySelector(".full") ?? label;
  if (full.textContent?.replace(SOFT_HYPHEN, "") !== tile.label) full.textContent = tile.label;
  let state = button.querySelector(".state");
  if (tile.state === "") state?.remove();
  else {
    if (state === null) button.append(state = make("span", { class: "state" }));
    state.textContent = tile.state;
  }
}

/** @param {Known} known @param {boolean} live */
function showPairs(known, live) {
  const place = find(".pairs");
  if (place === null) return;
  const list = tiles.pairs(known);
  if (place.childElementCount !== list.length) {
    place.className = `pairs${list.length > 6 ? " many" : list.length > 3 ? " some" : ""}`;
    place.replaceChildren(...list.map((_, at) => {
      const half = (/** @type {string} */ side) => make("button", { class: "tile", id: `p${at + 1}${side}`, name: "acts" });
      return make("div", { class: "pair" }, half("a"), half("b"));
    }));
  }
  const label = known.sheet.points.find((one) => one.id === known.point())?.label ?? "";
  place.setAttribute("aria-label", `Tests at ${label}`);
  block(".pairs", list.flatMap((pair) => [pair.low, pair.high]), live);
}

/** @param {Known} known */
function showRounds(known) {
  const table = find(".rounds table");
  if (table === null) return;
  const { heads, rows } = tiles.rounds(known);
  const point = known.sheet.points.find((one) => one.id === known.point())?.label ?? "";
  if (!differs(table, [heads, rows, point])) return;
  const head = heads.map(({ number, now }) =>
    make("th", { scope: "col", class: now ? "now" : undefined }, make("abbr", { title: `Round ${number}` }, `R${number}`)));
  const cells = (/** @type {tiles.Cell[]} */ list) => list.map(([shape, word]) =>
    make("td", {},
      shape === "" ? make("span", { class: "owed" }, "·") : make("span", { "aria-hidden": "true" }, shape),
      make("span", { class: "unseen" }, word)));
  table.replaceChildren(
    make("caption", { id: "at-point" }, `Tests at ${point}`),
    make("thead", {}, make("tr", {}, make("th", { scope: "col" }, "Pair"), ...head)),
    make("tbody", {}, ...rows.map((row) => make("tr", {}, make("th", { scope: "row" }, row.pair), ...cells(row.cells)))),
  );
}

/** @param {string} id @param {Chip} chip @param {string} [place] */
function chipOf(id, { label, acts, atMs }, place) {
  const at = atMs === undefined ? undefined : String(atMs);
  return make("button", { class: "chip", id, name: "acts", value: JSON.stringify(acts), "data-at-ms": at, "data-place": place }, label);
}

/** A word that opens what stands under it, made when it is opened. @param {string} id @param {string} label @param {string} look @param {() => Node[]} fill */
function menu(id, label, look, fill) {
  const drop = make("div", { class: `drop up ${look}`, tabindex: "0" });
  const details = make("details", { class: "menu", id }, make("summary", { class: "chip" }, label), drop);
  details.addEventListener("toggle", () => {
    if (/** @type {HTMLDetailsElement} */ (details).open) drop.replaceChildren(...fill());
  });
  return details;
}

/** @param {Observation[]} log @param {Known} known @param {number} now */
function showLastLine(log, known, now) {
  const line = find(".lastline");
  if (line === null) return;
  const said = last(log, known);
  const struckNow = log.at(-1);
  const back = struckNow !== undefined && now - struckNow.at_ms < BRING_BACK_MS ? bringBack(log) : null;
  if (!differs(line, [said, back, known.phase(), log.length])) return;
  const parts = [];
  if (said === null) parts.push(make("p", { class: "last" }, hint(known.phase())));
  else parts.push(make("p", { class: "last" }, make("b", {}, `#${said.number}`), " ", make("span", { id: "last-says" }, said.says), " · ", make("bdi", { dir: "ltr" }, said.minute)));
  const chips = said === null || back !== null ? [] : chipsOf(said);
  if (known.ended !== null) chips.push(chipOf("back", { label: "Back to marking", acts: [strikeOf(known.ended, "other")] }));
  parts.push(group("chips", "Instead of the last record", chips), group("fixed", "About the record", fixedOf(log, known, said, back)));
  line.replaceChildren(...parts);
}

/** @param {string} look @param {string} label @param {Node[]} children */
const group = (look, label, children) => make("div", { class: look, role: "group", "aria-label": label }, ...children);

/** What is always there, each in its place. @param {Observation[]} log @param {Known} known @param {import("./chips.js").Last | null} said @param {Chip | null} back */
function fixedOf(log, known, said, back) {
  const fixed = [];
  if (said !== null) fixed.push(chipOf("not-seen", said.notSeen));
  if (back !== null) fixed.push(chipOf("bring-back", back, "strike"));
  else if (said !== null) fixed.push(chipOf("strike", said.strike, "strike"));
  if (known.phase() === "running") fixed.push(menu("more", "More…", "wide", () => moreOf(known, said)));
  fixed.push(menu("history", `All ${log.length}`, "wide", () => [historyOf(log, known)]));
  return fixed;
}

/** @param {string} phase */
function hint(phase) {
  return phase === "before"
    ? "Read name, bay and task aloud. Tap Start when the candidate begins. Training material, not a permit to work."
    : "The clock is running. Tap what you see.";
}

/** @param {import("./chips.js").Last} said @returns {Node[]} */
function chipsOf(said) {
  const menus = said.menus.map(({ label, options }, number) =>
    menu(`menu-${number + 1}`, label, "", () => options.map((chip, at) => chipOf(`m${number + 1}-${at + 1}`, chip))));
  return [...said.chips.map((chip, at) => chipOf(`c${at + 1}`, chip)), ...(said.note === null ? [] : [wordsChip(said.note)]), ...menus];
}

/** Where a note gets its words. @param {Observation} note */
function wordsChip(note) {
  return menu(`words-${note.seq}`, "Words…", "", () => {
    const id = `note-${note.seq}`;
    const text = /** @type {HTMLTextAreaElement} */ (make("textarea", { id, rows: "3", maxlength: "1800" }));
    if (!isWordless(note.act)) text.value = note.act.text;
    const put = /** @type {HTMLButtonElement} */ (make("button", { class: "chip", id: `put-${note.seq}`, name: "acts", "data-at-ms": String(note.at_ms) }, "Put into words"));
    const take = () => {
      const words = text.value.trim();
      put.value = JSON.stringify(words === "" ? [] : instead(note, "", { ...note.act, text: words }).acts);
      put.disabled = words === "";
    };
    text.addEventListener("input", take);
    take();
    return [make("label", { for: id }, `Note #${note.seq}, ${minutes(note.at_ms)}`), text, put];
  });
}

/** @param {Known} known @param {import("./chips.js").Last | null} said */
function moreOf(known, said) {
  const parts = [];
  if (said !== null && said.rarely.length > 0) {
    parts.push(make("h2", {}, `Instead of #${said.number}`));
    parts.push(make("div", { class: "rare" }, ...said.rarely.map((chip, at) => chipOf(`r${at + 1}`, chip))));
  }
  tiles.rare(known).forEach(({ title, tiles: list }, number) => {
    const buttons = list.map((tile, at) => {
      const button = /** @type {HTMLButtonElement} */ (make("button", { class: "tile", id: `g${number + 1}-${at + 1}`, name: "acts" }));
      write(button, tile, true);
      return button;
    });
    parts.push(make("h2", {}, title), make("div", { class: "rare" }, ...buttons));
  });
  parts.push(toTablet());
  return parts;
}

const toTablet = () => make("button", { class: "chip", type: "button", "data-opens": "tablet" }, "This tablet…");

/** Everything recorded, the latest first. @param {Observation[]} log @param {Known} known */
function historyOf(log, known) {
  const gone = struck(log);
  const row = (/** @type {Observation} */ seen) => {
    const says = describe(seen.act, known.sheet);
    const isGone = gone.has(seen.id);
    const mayStrike = !isGone && seen.act.kind !== "struck" && seen.act.kind !== "started";
    return make("li", { class: isGone ? "struck" : undefined },
      make("bdi", { dir: "ltr" }, minutes(seen.at_ms)),
      isGone ? make("span", {}, make("s", {}, says), " struck") : make("span", {}, says),
      ...(mayStrike && seen.act.kind === "remark" ? [wordsChip(seen)] : []),
      ...(mayStrike ? [chipOf(`h${seen.seq}`, { label: "Strike", acts: [strikeOf(seen.id, "mis_tap")] })] : []));
  };
  return make("div", {}, toTablet(), make("h2", {}, "Everything recorded, the latest first"),
    make("ol", { class: "history" }, ...[...log].reverse().map(row)),
    make("p", { class: "quiet" }, "Training material, not a permit to work. Local rules and a competent licensed person decide. ", make("a", { href: "/" }, "All sessions")));
}
