// Records kept, in a real browser: the periods confirmed, what is due listed, a hold set and lifted, the report of a run.
import assert from 'node:assert/strict';
import { execFile } from 'node:child_process';
import { after, before, test as plain } from 'node:test';
import { promisify } from 'node:util';
import { accessible, fits, reachable } from './axe.mjs';
import { SCREENS, openPage, signIn, startBrowser, startDemo } from './demo.mjs';

const PROGRAM = new URL('../../target/debug/baywitness', import.meta.url).pathname;

/** A test that hangs is a test that fails. */
const test = (name, body) => plain(name, { timeout: 120_000 }, body);

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

/** A manager, signed in, and what the browser complains about. */
async function open(viewport, more = {}) {
  const { context, page, complaints } = await openPage(browser, viewport, more, / 4(03|09|22) /);
  await signIn(page, demo, 'odile');
  return { context, page, complaints };
}

/** In each size: accessible, nothing wider than the screen, no target under 44 px. */
async function good(page, where) {
  for (const [size, viewport] of Object.entries(SCREENS)) {
    await page.setViewportSize(viewport);
    await accessible(page, `${where}, ${size}`);
    await fits(page, `${where}, ${size}`);
    await reachable(page, 'main :is(button, .button, select, input:not([type=hidden]), .dues a)', `${where}, ${size}`);
  }
}

test('the periods are confirmed, what is due is listed, and what was typed wrongly stays', async () => {
  const { context, page, complaints } = await open(SCREENS.phone);
  await page.goto(`${demo.address}/centre/records`);
  await page.getByText('Nothing is erased by itself yet').waitFor();
  await page.getByText('There has been no run yet').waitFor();
  await good(page, 'nothing confirmed');
  await page.getByRole('link', { name: 'Look at the periods' }).click();
  await good(page, 'the periods');
  await page.getByLabel('Sessions passed, months').fill('2');
  await page.getByLabel('Record of who did what, months').fill('11');
  await page.getByRole('button', { name: 'Confirm the periods' }).click();
  await page.locator('#passes-fault').waitFor();
  await page.locator('#deeds-fault').waitFor();
  assert.equal(await page.getByLabel('Sessions passed, months').inputValue(), '2');
  await good(page, 'two faults');
  await page.getByLabel('Sessions passed, months').fill('36');
  await page.getByLabel('Sessions not passed, months').fill('3');
  await page.getByLabel('Record of who did what, months').fill('12');
  await page.getByRole('button', { name: 'Confirm the periods' }).click();
  await page.getByText('The periods are confirmed').waitFor();
  assert.match(String(await page.locator('main').textContent()), /by the periods that Odile Marchbank confirmed on/);
  await good(page, 'confirmed');
  const due = page.locator('.dues a', { hasText: 'Sessions not passed: 1' });
  await due.click();
  await page.getByText('will go').waitFor();
  assert.equal(await page.locator('.list th[scope=row] bdi').count(), 1);
  await good(page, 'what is due');
  await page.goto(`${demo.address}/centre/records/due?kind=exports&month=now`);
  await page.getByText('Nothing is due').waitFor();
  await good(page, 'nothing is due');
  assert.deepEqual(complaints, []);
  await context.close();
});

test('a hold is set from the candidate and lifted with the password, without script', async () => {
  const { context, page } = await open(SCREENS.portrait, { javaScriptEnabled: false });
  await page.goto(`${demo.address}/candidates?find=SQ-1041`);
  await page.locator('.list th[scope=row] a').first().click();
  await page.getByRole('link', { name: 'Hold their records' }).click();
  await page.getByRole('button', { name: 'Set the hold' }).click();
  await page.locator('#why-fault').waitFor();
  await page.getByLabel('Why', { exact: true }).selectOption('appeal');
  await page.getByRole('button', { name: 'Set the hold' }).click();
  await page.getByText('The hold is set').waitFor();
  await page.getByRole('link', { name: /^Lift the hold on/ }).click();
  await page.getByText('An appeal or a complaint goes on').waitFor();
  await page.getByRole('button', { name: 'Lift the hold' }).click();
  await page.getByText('The hold is lifted').waitFor();
  assert.match(String(await page.locator('main').textContent()), /lifted/);
  await context.close();
});

test('the pages of a hold are accessible, and a run is reported with its counts', async () => {
  const { context, page, complaints } = await open(SCREENS.landscape);
  await page.goto(`${demo.address}/candidates?find=SQ-1042`);
  await page.locator('.list th[scope=row] a').first().click();
  await good(page, 'a candidate');
  await page.getByRole('link', { name: 'Hold their records' }).click();
  await good(page, 'holding');
  await page.getByRole('button', { name: 'Set the hold' }).click();
  await page.locator('#why-fault').waitFor();
  await good(page, 'holding, refused');
  await page.getByLabel('Why', { exact: true }).selectOption('claim');
  await page.getByRole('button', { name: 'Set the hold' }).click();
  await good(page, 'held');
  await page.getByRole('link', { name: /^Lift the hold on/ }).click();
  await good(page, 'lifting');
  assert.deepEqual(complaints, []);
  await context.close();

  // The command stands in for the night: it erases what is due now, which is nothing in a centre of today.
  await demo.die();
  const env = { ...process.env, BAYWITNESS_DATA: demo.data, DATABASE_URL: '' };
  const dry = await promisify(execFile)(PROGRAM, ['retain', '--demo', '--dry-run'], { env });
  assert.match(dry.stdout, /^sable-quay: due now, nothing erased\n$/);
  const ran = await promisify(execFile)(PROGRAM, ['retain', '--demo', '--centre', 'sable-quay'], { env });
  assert.match(ran.stdout, /^sable-quay: run 1\n {2}passes 0\n/);
  await demo.again();
  const later = await open(SCREENS.phone);
  await later.page.goto(`${demo.address}/centre/records`);
  await later.page.getByText('nothing was due').waitFor();
  await good(later.page, 'with a run');
  await later.context.close();
});
