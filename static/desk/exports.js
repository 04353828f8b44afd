// @ts-check
/**
 * The page of an export that is running, enhanced: it looks again by itself. Without this file its link does the same.
 */

export {};

const factory = /** @type {any} */ (globalThis).trustedTypes;
const policy = factory?.createPolicy("fragment", { createHTML: (/** @type {string} */ html) => html });

const shown = /** @type {HTMLProgressElement} */ (document.getElementById("rows"));
const says = /** @type {HTMLElement} */ (document.getElementById("progress"));
const again = /** @type {HTMLElement} */ (document.getElementById("again"));
again.hidden = true;

/** Fetches the page and shows how far the export is; where it has ended, the page itself. */
async function look() {
  try {
    const answer = await fetch(location.href, { credentials: "same-origin" });
    if (!answer.ok) throw new Error(String(answer.status));
    const html = await answer.text();
    const page = new DOMParser().parseFromString(policy === undefined ? html : policy.createHTML(html), "text/html");
    const rows = /** @type {HTMLProgressElement | null} */ (page.getElementById("rows"));
    if (rows === null) {
      location.reload();
      return;
    }
    shown.value = rows.value;
    const text = page.getElementById("progress")?.textContent ?? "";
    if (says.textContent !== text) says.textContent = text;
  } catch {
    // The service or the network is away: the link tries again when the person wants to.
    again.hidden = false;
  }
  setTimeout(look, 1000);
}
setTimeout(look, 1000);
