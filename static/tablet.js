// @ts-check
/**
 * This tablet: which hand holds it, keys, pulse, screen, the file of what is not sent, and a new version.
 *
 * @typedef {import("./store.js").Row} Row
 * @typedef {{ rows: () => Row[], running: () => boolean, waiting: () => number }} Ends
 */

import { workerAddress } from "./fragment.js";
import { make } from "./show.js";

/** @type {Record<string, string>} */
const KEYS = { x: "strike", u: "not-seen", n: "a14", p: "a4" };

export class Tablet {
  #dialog = /** @type {HTMLDialogElement} */ (document.getElementById("tablet"));
  /** @type {Record<string, string>} */
  #set = { hand: "left", keys: "off", pulse: "off" };
  /** @type {WakeLockSentinel | null} */
  #awake = null;
  /** Why the screen may go dark, or nothing. */
  screen = "";
  #persisted = "not asked yet";
  /** @type {ServiceWorker | null} */
  #newer = null;
  /** Whether the assessor wants the new version now. */
  #agreed = false;

  /** @param {import("./store.js").Store} store @param {Ends} ends */
  constructor(store, ends) {
    this.store = store;
    this.ends = ends;
    this.#dialog.addEventListener("click", (event) => this.#press(/** @type {HTMLElement} */ (event.target)));
    document.addEventListener("click", (event) => {
      if (event.target instanceof Element && event.target.closest("[data-opens=tablet]") !== null) this.open();
    });
    document.addEventListener("keydown", (event) => this.#key(event));
  }

  async start() {
    for (const name of Object.keys(this.#set)) {
      const kept = await this.store.setting(name).catch(() => undefined);
      if (typeof kept === "string") this.#set[name] = kept;
    }
    this.#apply();
    this.#work();
    const granted = await navigator.storage?.persist?.().catch(() => false);
    this.#persisted = granted ? "is kept until you clear it" : "may be cleared by the browser when space runs out";
  }

  #apply() {
    document.body.dataset.hand = this.#set.hand;
    for (const button of this.#dialog.querySelectorAll("button[data-set]")) {
      const { set, to } = /** @type {HTMLElement} */ (button).dataset;
      button.setAttribute("aria-pressed", String(this.#set[set ?? ""] === to));
    }
  }

  open() {
    const says = document.getElementById("tablet-says");
    if (says !== null) says.textContent = `Storage here ${this.#persisted}. ${this.ends.waiting()} not sent yet. ${this.screen}`;
    const troubled = this.ends.rows().filter((row) => row.trouble !== null);
    const [trouble, list] = [document.getElementById("trouble"), document.getElementById("trouble-list")];
    if (trouble !== null) trouble.hidden = troubled.length === 0;
    list?.replaceChildren(...troubled.map((row) =>
      make("li", {}, `#${row.observation.seq} ${row.observation.act.kind.replaceAll("_", " ")}: ${row.trouble}`)));
    this.#dialog.showModal();
  }

  /** @param {HTMLElement} target */
  #press(target) {
    const { set, to } = target.dataset;
    if (set !== undefined && to !== undefined) {
      this.#set[set] = to;
      this.#apply();
      this.store.set(set, to).catch(() => undefined);
    }
    if (target.id === "tablet-close") this.#dialog.close();
    if (target.id === "save-file") this.#save();
    if (target.id === "update") {
      this.#agreed = true;
      this.#newer?.postMessage("take over");
    }
  }

  /** Single keys, once they were switched on, and never while writing. @param {KeyboardEvent} event */
  #key(event) {
    const writing = event.target instanceof HTMLInputElement || event.target instanceof HTMLTextAreaElement;
    if (this.#set.keys !== "on" || writing || event.ctrlKey || event.altKey || event.metaKey || document.querySelector("dialog[open]") !== null) return;
    const id = /^[1-9]$/.test(event.key) ? `s${event.key}` : KEYS[event.key];
    const button = document.getElementById(id ?? "") ?? (id === "strike" ? document.getElementById("bring-back") : null);
    if (button instanceof HTMLButtonElement) button.click();
  }

  /** A pulse under the finger, where it was asked for. */
  pulse() {
    if (this.#set.pulse === "on") navigator.vibrate?.(12);
  }

  /** What is not sent, as a file that a person can hand in. */
  #save() {
    const rows = this.ends.rows();
    const text = `${JSON.stringify({ format: "baywitness unsent 1", rows }, null, 1)}\n`;
    const address = URL.createObjectURL(new Blob([text], { type: "application/json" }));
    const link = /** @type {HTMLAnchorElement} */ (make("a", { href: address, download: "baywitness-unsent.json" }));
    link.click();
    setTimeout(() => URL.revokeObjectURL(address), 10_000);
  }

  /** The screen stays on from Start to End, where the tablet allows it. */
  async stayAwake() {
    if (!this.ends.running()) {
      this.#awake?.release().catch(() => undefined);
      this.#awake = null;
      return;
    }
    if (document.visibilityState !== "visible" || (this.#awake !== null && !this.#awake.released)) return;
    try {
      if (navigator.wakeLock === undefined) throw new Error("not offered");
      this.#awake = await navigator.wakeLock.request("screen");
      this.screen = "";
    } catch {
      this.screen = "Screen may go dark.";
    }
  }

  /** The worker that opens this page without a network. */
  async #work() {
    if (!("serviceWorker" in navigator)) return;
    try {
      navigator.serviceWorker.addEventListener("controllerchange", () => {
        if (this.#agreed) location.reload();
      });
      const registered = await navigator.serviceWorker.register(workerAddress(), { scope: "/", updateViaCache: "none" });
      const notice = () => { this.#newer = registered.waiting; };
      notice();
      registered.addEventListener("updatefound", () => registered.installing?.addEventListener("statechange", notice));
    } catch {
      // Without it the page works, only not after a reload without a network.
    }
  }

  /** Whether a new version waits and nothing stands in its way. */
  offersUpdate() {
    const may = this.#newer !== null && this.ends.waiting() === 0;
    const button = document.getElementById("update");
    if (button !== null) button.hidden = !may;
    return may;
  }
}
