// @ts-check
/** Parts of pages come from our own service only; this is the one place where text becomes a page. */

const factory = /** @type {any} */ (globalThis).trustedTypes;
const policy = factory?.createPolicy("fragment", { createHTML: (/** @type {string} */ html) => html });

/**
 * The record in a fragment of HTML. Scripts in parsed documents never run.
 * @param {string} html
 * @returns {HTMLElement | null}
 */
export function parseFragment(html) {
  const parsed = new DOMParser().parseFromString(policy === undefined ? html : policy.createHTML(html), "text/html");
  const record = parsed.getElementById("record");
  return record === null ? null : document.adoptNode(record);
}
