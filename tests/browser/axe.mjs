// Accessibility, as far as a program can tell, and what must fit a screen.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';

const AXE = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** No violation of WCAG 2.2 A and AA that axe-core can find. */
export async function accessible(page, where) {
  // Through the debugger, since the page's own policy lets no foreign script in.
  await page.evaluate(AXE);
  const { violations } = await page.evaluate(() => globalThis.axe.run(document, {
    runOnly: { type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] },
  }));
  assert.deepEqual(violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.html.slice(0, 120)).join(' | ')}`), [], where);
}

/** Nothing is wider than the screen. */
export async function fits(page, where) {
  const [content, screen] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
  assert.ok(content <= screen, `${where}: ${content} px wide on a screen of ${screen}`);
}

/** Nothing of these that is shown is under 44 px high. Seen and measured in one go: scripts may draw parts of a page anew. */
export async function reachable(page, selector, where) {
  const small = await page.evaluate((these) => [...document.querySelectorAll(these)]
    .filter((one) => one.checkVisibility() && one.getClientRects().length > 0 && one.getBoundingClientRect().height < 44)
    .map((one) => one.outerHTML.slice(0, 100)), selector);
  assert.deepEqual(small, [], `${where}: lower than 44 px`);
}
