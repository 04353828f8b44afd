// @ts-check
/**
 * On pages that know what a person has still to mark: takes what opens the other sessions without a network off this
 * tablet. What is not sent stays, and so does the page beside it.
 */

import { Store } from "./store.js";

const { staff, toMark, over } = document.getElementById("kept-here")?.dataset ?? {};
// A computer on which nothing was ever marked keeps nothing, and is not made to.
const there = await indexedDB.databases?.().catch(() => undefined);
if (there === undefined || there.some((one) => one.name === "baywitness")) {
  const open = new Set(toMark?.split(" "));
  await new Store().tidy((one) => one.staff === Number(staff) && (over === undefined ? !open.has(one.session) : one.session === over)).catch(() => undefined);
}
