// @ts-check
/**
 * The live page, enhanced. Without this file its Reload link does the same. The stream says only that something was
 * added; the page then fetches itself and puts the fresh part in the place of the shown one.
 */

/** What is shown of the session. @param {Document} page */
const watched = (page) => page.getElementById("watched");

const contact = /** @type {HTMLElement} */ (document.getElementById("contact"));
const events = watched(document)?.dataset.events ?? "";

const factory = /** @type {any} */ (globalThis).trustedTypes;
const policy = factory?.createPolicy("fragment", { createHTML: (/** @type {string} */ html) => html });

let busy = false;
let again = false;

/** Fetches the page and swaps its part; what changes meanwhile is fetched right after. */
async function refresh() {
  again = true;
  if (busy) return;
  busy = true;
  while (again) {
    again = false;
    try {
      await swap();
    } catch {
      say("No contact just now. Trying again.");
    }
  }
  busy = false;
}

async function swap() {
  const response = await fetch(location.pathname);
  // Signed meanwhile, or signed out: the address it leads to is the page to see.
  if (response.redirected) {
    source.close();
    location.assign(response.url);
    return;
  }
  if (!response.ok) throw new Error(String(response.status));
  const html = await response.text();
  const fresh = new DOMParser().parseFromString(policy === undefined ? html : policy.createHTML(html), "text/html");
  const part = watched(fresh);
  if (part !== null) watched(document)?.replaceWith(document.adoptNode(part));
  say("Live: new entries appear by themselves.");
}

/** One announcement for each change of words. @param {string} words */
function say(words) {
  if (contact.textContent !== words) contact.textContent = words;
}

const source = new EventSource(events);
source.addEventListener("change", refresh);
source.addEventListener("error", () => {
  const over = source.readyState === EventSource.CLOSED;
  say(over ? "The live view has stopped. Reload the page." : "No contact just now. Trying again.");
});
