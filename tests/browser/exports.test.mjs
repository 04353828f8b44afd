// The page of exports in Chromium: asked for, made and downloaded, with and without script; accessible in every state.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { after, before, test as plain } from 'node:test';
import { accessible, fits } from './axe.mjs';
import { SCREENS, signIn, startBrowser, startDemo } from './demo.mjs';

/** A test that hangs is a test that fails. */
const test = (name, body) => plain(name, { timeout: 90_000 }, body);

let demo;
let browser;

before(async () => {
  demo = await startDemo();
  browser = await startBrowser();
});

after(async () => {
  await browser?.close();
  await demo?.stop();
});

/** No violation of WCAG 2.2 A and AA that axe-core can find, and nothing wider than the screen. */
async function sound(page, where) {
  await accessible(page, where);
  await fits(page, where);
}

for (const [name, viewport] of Object.entries(SCREENS)) {
  for (const javaScriptEnabled of [true, false]) {
    test(`an export is made and downloaded, ${name}, ${javaScriptEnabled ? 'with' : 'without'} script`, async () => {
      const context = await browser.newContext({ viewport, javaScriptEnabled });
      const page = await context.newPage();
      const check = async (where) => { if (javaScriptEnabled) await sound(page, `${where}, ${name}`); };
      await signIn(page, demo, 'odile');
      await page.goto(`${demo.address}/exports`);
      await check('the form');
      await page.getByText('Columns of a table of results').click();
      assert.ok(await page.getByLabel('The centre’s own reference').or(page.locator('#column-candidate_ref')).isChecked());
      await check('the columns');
      await page.getByLabel('Last day').fill('2020-01-01');
      await page.getByRole('button', { name: 'Export', exact: true }).click();
      assert.equal(await page.getByLabel('Last day').inputValue(), '2020-01-01', 'what was typed is kept');
      await check('a fault');
      await page.getByLabel('Last day').fill('2199-12-31');
      await page.getByRole('button', { name: 'Export', exact: true }).click();
      for (let tries = 0; await page.getByRole('link', { name: /^Download,/ }).count() === 0; tries += 1) {
        assert.ok(tries < 100, `the export does not end: ${await page.locator('main').textContent()}`);
        await page.waitForTimeout(100);
        if (!javaScriptEnabled) await page.getByRole('link', { name: 'Look again' }).click().catch(() => page.reload());
      }
      await check('a finished export');
      const [download] = await Promise.all([
        page.waitForEvent('download'),
        page.getByRole('link', { name: /^Download,/ }).click(),
      ]);
      assert.match(download.suggestedFilename(), /^sable-quay-.*-results-sheet\.csv$/);
      const text = await readFile(await download.path(), 'utf8');
      assert.equal(text.split('\r\n').length, 4, 'a head and two results');
      assert.ok(!text.includes('Dilys'), 'names are off');
      await page.getByRole('link', { name: 'All exports' }).click();
      await page.getByRole('rowheader').first().waitFor();
      await check('the list');
      await context.close();
    });
  }
}
