// @ts-check
/**
 * A step of a task that is being written, enhanced: faults, suitability and drawing keep up with what is typed, and nothing
 * typed is lost by going to another step. Without this file the same is said after each save.
 */

export {};

const factory = /** @type {any} */ (globalThis).trustedTypes;
const policy = factory?.createPolicy("fragment", { createHTML: (/** @type {string} */ html) => html });

/** How long after the last change the service is asked, in milliseconds. */
const PAUSE = 250;

const form = /** @type {HTMLFormElement} */ (document.querySelector("form.task"));
let changed = false;
/** Counts what was asked, so that an answer that was overtaken is thrown away. */
let asked = 0;
let timer = 0;

/** Asks what would be said if all of it were saved, and shows that. */
async function look() {
  const mine = ++asked;
  const body = new URLSearchParams();
  for (const [name, value] of new FormData(form)) body.append(name, String(value));
  try {
    const answer = await fetch(form.action.replace(/edits$/, "look"), { method: "POST", body, credentials: "same-origin" });
    // What is refused is said, with its reason, when the step is saved.
    if (!answer.ok || mine !== asked) return;
    const html = await answer.text();
    if (mine !== asked) return;
    show(new DOMParser().parseFromString(policy === undefined ? html : policy.createHTML(html), "text/html"));
  } catch {
    // The service or the network is away: saving says so.
  }
}

/** Takes over what the service says of the step; fields and their values stay. @param {Document} page */
function show(page) {
  for (const part of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-live]"))) {
    const other = page.querySelector(`[data-live="${CSS.escape(part.dataset.live ?? "")}"]`);
    if (other === null || other.innerHTML === part.innerHTML || part.contains(document.activeElement)) continue;
    part.replaceChildren(...[...other.childNodes].map((node) => document.importNode(node, true)));
  }
  for (const field of form.querySelectorAll("input[id], select[id], textarea[id], fieldset[id]")) {
    const other = page.getElementById(field.id);
    for (const name of ["aria-describedby", "aria-invalid"]) {
      const value = other?.getAttribute(name) ?? null;
      if (value === null) field.removeAttribute(name);
      else field.setAttribute(name, value);
    }
  }
  const standing = document.getElementById("standing");
  const told = page.getElementById("standing")?.textContent ?? "";
  if (standing !== null) standing.textContent = `${told} Not saved yet.`;
}

form.addEventListener("input", () => {
  changed = true;
  clearTimeout(timer);
  timer = setTimeout(look, PAUSE);
});

document.addEventListener("click", (event) => {
  const link = event.target instanceof Element ? event.target.closest(".tabs a") : null;
  if (!changed || !(link instanceof HTMLAnchorElement) || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  const go = Object.assign(document.createElement("input"), { type: "hidden", name: "do", value: `go:${link.pathname.split("/").pop()}` });
  form.append(go);
  form.submit();
});
