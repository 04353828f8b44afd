// The bay sheet in a real browser: sound on every screen, and on paper in at most three pages with every line on them.
import assert from 'node:assert/strict';
import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test as plain } from 'node:test';
import { promisify } from 'node:util';
import { accessible, fits } from './axe.mjs';
import { SCREENS, openPage, signIn, startBrowser, startDemo } from './demo.mjs';

const run = promisify(execFile);

/** A test that hangs is a test that fails. */
const test = (name, body) => plain(name, { timeout: 180_000 }, body);

let demo;
let browser;
let folder;

before(async () => {
  demo = await startDemo();
  browser = await startBrowser();
  folder = await mkdtemp(join(tmpdir(), 'bw-sheet-'));
});

after(async () => {
  await browser?.close();
  await demo?.stop();
  if (folder) await rm(folder, { recursive: true, force: true });
});

/** A page, signed in, that reports what the browser complains about. */
async function open(viewport) {
  const { context, page, complaints } = await openPage(browser, viewport);
  page.setDefaultTimeout(15_000);
  await signIn(page, demo, 'ines');
  return { context, page, complaints };
}

/** No violation of WCAG 2.2 A and AA that axe-core can find, nothing wider than the screen. */
async function sound(page, where) {
  await accessible(page, where);
  await fits(page, where);
}

async function toSheet(page, title) {
  await page.getByRole('link', { name: 'Tasks', exact: true }).click();
  await page.getByRole('link', { name: title }).click();
  await page.getByRole('link', { name: 'Bay sheet' }).click();
  await page.getByRole('heading', { level: 1, name: 'Bay sheet' }).waitFor();
}

const squeezed = (text) => text.replace(/\s+/g, '');

test('sheet and import are sound on every screen', async () => {
  for (const [name, viewport] of Object.entries(SCREENS)) {
    const { context, page, complaints } = await open(viewport);
    await toSheet(page, /stairwell lights/);
    await sound(page, `the sheet, ${name}`);
    await page.goto(`${demo.address}/tasks/import`);
    await sound(page, `the import, ${name}`);
    await page.getByLabel('Or its text').fill('title = 1\n');
    await page.getByRole('button', { name: 'Bring it in' }).click();
    await page.getByRole('heading', { name: 'The task was not taken in' }).waitFor();
    await sound(page, `the faults, ${name}`);
    assert.equal(await page.getByLabel('Or its text').inputValue(), 'title = 1\n');
    assert.deepEqual(complaints.filter((one) => !one.includes('422')), [], name);
    await context.close();
  }
});

test('on paper the sheet of the stairwell has every line and at most three pages', async () => {
  const { context, page } = await open(SCREENS.landscape);
  await toSheet(page, /stairwell lights/);
  const lines = await page.locator('main :is(h1, h2, .boxes b, .boxes small, caption, .expected :is(th, td))').allInnerTexts();
  assert.ok(lines.length > 60, String(lines.length));
  for (const format of ['A4', 'Letter']) {
    const pdf = join(folder, `${format}.pdf`);
    await page.pdf({ path: pdf, format, preferCSSPageSize: false });
    const { stdout: about } = await run('pdfinfo', [pdf]);
    const pages = Number(/Pages:\s+(\d+)/.exec(about)?.[1]);
    assert.ok(pages >= 1 && pages <= 3, `${format}: ${pages} pages`);
    const { stdout } = await run('pdftotext', ['-raw', pdf, '-']);
    const text = squeezed(stdout);
    for (const line of lines.filter((one) => one.trim() !== '')) assert.ok(text.includes(squeezed(line)), `${format}: ${line}`);
    assert.ok(text.includes(squeezed('not a permit to work')), format);
  }
  await context.close();
});
