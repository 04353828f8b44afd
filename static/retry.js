// @ts-check
/** How long to wait before sending again. */

const LONGEST_WAIT_MS = 60_000;

/** Doubling, with some chance in it so that tablets do not all come back at once. @param {number} failures in a row @param {number} first the first wait, in milliseconds */
export function backOff(failures, first) {
  const doubled = Math.min(LONGEST_WAIT_MS, first * 2 ** Math.min(failures - 1, 10));
  return Math.min(LONGEST_WAIT_MS, doubled * (0.75 + Math.random() / 2));
}

/** `Retry-After` (RFC 9110, section 10.2.3), in milliseconds: seconds or a date. @param {string | null} header */
export function waitAsked(header) {
  if (header === null) return 0;
  const seconds = Number(header);
  const ms = Number.isFinite(seconds) ? seconds * 1000 : Date.parse(header) - Date.now();
  return Number.isFinite(ms) ? Math.max(0, ms) : 0;
}
