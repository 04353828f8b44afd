// @ts-check
/**
 * Signing in again inside the page: when the sign-in ran out, and when the tablet lay idle. What was tapped stays on the
 * tablet and belongs to the person who tapped it.
 *
 * @typedef {{ session: string, staff: number, onIn: (html: string) => void, offline: () => boolean }} Ends
 */

import { staffOf } from "./fragment.js";

const LOCK_AFTER_MS = 20 * 60_000;
/** A sheet is not laid over tiles that are being used. */
const CALM_MS = 5_000;

export class Gate {
  #dialog = /** @type {HTMLDialogElement} */ (document.getElementById("gate"));
  #fault = /** @type {HTMLElement} */ (document.getElementById("gate-fault"));
  #later = /** @type {HTMLButtonElement} */ (document.getElementById("gate-later"));
  #lastUse = performance.now();
  #wanted = false;
  #locked = false;

  /** @param {Ends} ends */
  constructor(ends) {
    this.ends = ends;
    for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, () => {
      this.#lastUse = performance.now();
    });
    document.getElementById("gate-form")?.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#enter();
    });
    this.#later.addEventListener("click", () => this.#close());
    this.#dialog.addEventListener("cancel", (event) => {
      if (this.#locked && !this.ends.offline()) event.preventDefault();
    });
  }

  /** The sign-in ran out. The sheet comes once nobody is tapping; tiles beside it go on working. */
  want() {
    this.#wanted = true;
    this.tick();
  }

  /** The sheet at once, since it was asked for. */
  open() {
    this.#wanted = false;
    if (this.#dialog.open) return;
    this.#say("Sign in again", "What was tapped is kept on this tablet and is sent as soon as you have signed in.");
    this.#dialog.show();
  }

  tick() {
    if (this.#wanted && performance.now() - this.#lastUse > CALM_MS) this.open();
    if (!this.#locked && performance.now() - this.#lastUse > LOCK_AFTER_MS) this.#lock();
    if (this.#locked) this.#later.hidden = !this.ends.offline() && navigator.onLine;
  }

  /** Never while offline: nobody could unlock it. */
  async #lock() {
    this.#lastUse = performance.now();
    if (this.ends.offline() || !navigator.onLine) return;
    const reached = await fetch("/health", { signal: AbortSignal.timeout(3_000) }).then((answer) => answer.ok, () => false);
    if (!reached) return;
    this.#dialog.close();
    this.#locked = true;
    this.#say("Locked", "Nothing was tapped for 20 minutes. The clock of the session runs on.");
    this.#later.hidden = true;
    this.#dialog.showModal();
  }

  /** @param {string} title @param {string} says */
  #say(title, says) {
    const set = (/** @type {string} */ id, /** @type {string} */ text) => {
      const place = document.getElementById(id);
      if (place !== null) place.textContent = text;
    };
    set("gate-title", title);
    set("gate-says", says);
    this.#fault.hidden = true;
    this.#later.hidden = false;
  }

  #close() {
    this.#locked = false;
    this.#wanted = false;
    this.#dialog.close();
  }

  /** @param {string} why */
  #refuse(why) {
    this.#fault.textContent = `▲ ${why}`;
    this.#fault.hidden = false;
  }

  async #enter() {
    const form = /** @type {HTMLFormElement} */ (document.getElementById("gate-form"));
    const body = new URLSearchParams();
    for (const name of ["name", "password"]) body.set(name, /** @type {HTMLInputElement} */ (form.elements.namedItem(name)).value);
    body.set("next", `/sessions/${this.ends.session}/marking`);
    try {
      const answer = await fetch("/sign-in", { method: "POST", body, signal: AbortSignal.timeout(10_000) });
      const html = await answer.text();
      if (answer.status === 401) this.#refuse("Name and password do not fit together. Check both and try again.");
      else if (answer.status === 429) this.#refuse("Too many tries. Wait a minute and try again.");
      else if (staffOf(html) !== this.ends.staff) this.#refuse("That is another person. Only who tapped can send what is kept here.");
      else {
        form.reset();
        this.#close();
        this.ends.onIn(html);
      }
    } catch {
      this.#refuse("The service cannot be reached. Go on marking; everything is kept on this tablet.");
      this.#later.hidden = false;
    }
  }
}
