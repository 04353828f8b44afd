// @ts-check
/** Parts of pages come from our own service only; this is the one place where text becomes a page. */

const factory = /** @type {any} */ (globalThis).trustedTypes;
const policy = factory?.createPolicy("fragment", {
  createHTML: (/** @type {string} */ html) => html,
  createScriptURL: () => WORKER,
});

/** The only script that is ever loaded by its address. */
const WORKER = "/marking-worker.js";

/** The worker's address, as the page's own policy wants it. @returns {string} */
export function workerAddress() {
  return policy === undefined ? WORKER : policy.createScriptURL(WORKER);
}

/**
 * The record in a page or a part of one. Scripts in parsed documents never run.
 * @param {string} html
 * @returns {HTMLFormElement | null}
 */
export function parseRecord(html) {
  const parsed = new DOMParser().parseFromString(policy === undefined ? html : policy.createHTML(html), "text/html");
  const record = parsed.getElementById("record");
  return record === null ? null : /** @type {HTMLFormElement} */ (document.adoptNode(record));
}

/** The staff number of the person a marking page was made for; 0 where it is no marking page. @param {string} html */
export function staffOf(html) {
  return Number(parseRecord(html)?.dataset.staff ?? 0);
}
