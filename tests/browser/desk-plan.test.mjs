// Planning in a real browser: one session, a clash refused, a block, a cancellation and a resit; every page accessible.
import assert from 'node:assert/strict';
import { after, before, test as plain } from 'node:test';
import { accessible, fits, reachable } from './axe.mjs';
import { SCREENS, openPage, signIn, startBrowser, startDemo } from './demo.mjs';

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

/** Signed in as a member of staff, with what the browser complains about. */
async function open(name, viewport, more = {}) {
  const { context, page, complaints } = await openPage(browser, viewport, more, / 4(09|22) /);
  await signIn(page, demo, name);
  return { context, page, complaints };
}

/** No violation of WCAG 2.2 A and AA that axe-core can find, nothing wider than the screen, no target under 44 px. */
async function good(page, where) {
  await accessible(page, where);
  await fits(page, where);
  await reachable(page, 'main :is(button, .button, .slot, select, input:not([type=hidden], [type=radio], [type=checkbox]))', where);
}

/** Fills in the form of a session. */
async function fill(page, { bay, day, time }) {
  const form = page.locator('form.fields').first();
  await form.getByLabel('Task', { exact: true }).selectOption({ index: 1 });
  await form.getByLabel('Bay', { exact: true }).fill(bay);
  await form.getByLabel('Assessor', { exact: true }).selectOption({ label: 'Ines Calloway' });
  await form.getByLabel('Day', { exact: true }).fill(day);
  await form.getByLabel('Time', { exact: true }).fill(time);
}

test('a session is planned, a clash refused, and the session cancelled and repeated', async () => {
  const { context, page, complaints } = await open('odile', SCREENS.portrait);
  await page.goto(`${demo.address}/plan?day=2028-02-09`);
  await page.getByRole('heading', { name: 'Nothing is planned for this day' }).waitFor();
  await page.getByRole('link', { name: 'Plan a session' }).click();
  await page.getByLabel('Name or reference').fill('farrow');
  await page.getByRole('button', { name: 'Search' }).click();
  await page.getByRole('link', { name: 'Dilys Farrow-Ekwueme' }).click();
  assert.equal(await page.getByLabel('Day', { exact: true }).inputValue(), '2028-02-09');
  await fill(page, { bay: 'Bay 5', day: '2028-02-09', time: '10:00' });
  await page.getByRole('button', { name: 'Plan this session' }).click();
  await page.getByText('The session is planned.').waitFor();
  await good(page, 'the plan of a day');

  await page.goto(`${demo.address}/plan/new?q=brandt`);
  await page.getByRole('link', { name: 'Zażółć Brandt' }).click();
  await fill(page, { bay: 'Bay 5', day: '2028-02-09', time: '10:20' });
  await page.getByRole('button', { name: 'Plan this session' }).click();
  await page.getByText('Bay 5 is taken on 9 February 2028').waitFor();
  assert.equal(await page.getByLabel('Bay', { exact: true }).inputValue(), 'Bay 5');
  await good(page, 'a clash');
  await page.getByLabel('Plan it all the same').check();
  await page.getByRole('button', { name: 'Plan this session' }).click();
  await page.getByText('2 of these sessions clash').waitFor();
  await page.getByText(/^bay, with Zażółć Brandt at 10:20, taken until 1\d:\d\d$/).first().waitFor();
  await good(page, 'a plan with clashes');

  await page.getByRole('link', { name: /^Zażółć Brandt/ }).click();
  await good(page, 'the plan of a session');
  await page.getByRole('button', { name: 'Cancel this session' }).click();
  await page.locator('#reason-fault').waitFor();
  await good(page, 'a cancellation without a reason');
  await page.getByLabel('Why it is cancelled').fill('The bay is being painted');
  await page.getByRole('button', { name: 'Cancel this session' }).click();
  await page.getByText('cancelled it on').waitFor();
  await good(page, 'a cancelled session');
  const cancelled = page.url();
  await page.getByRole('link', { name: 'Plan a resit' }).click();
  await page.getByText('This is a resit of the session of').waitFor();
  await fill(page, { bay: 'Bay 6', day: '2028-02-10', time: '10:00' });
  await page.getByRole('button', { name: 'Plan this session' }).click();
  await page.getByText('· resit').waitFor();
  await page.goto(cancelled);
  await page.getByText('Planned again:').waitFor();
  assert.deepEqual(complaints, []);
  await context.close();
});

test('a block is proposed, then planned', async () => {
  const { context, page, complaints } = await open('odile', SCREENS.landscape);
  await page.goto(`${demo.address}/plan/block?day=2028-03-07`);
  await page.getByLabel('Find candidates to add').fill('SQ');
  await page.getByRole('button', { name: 'Find', exact: true }).click();
  for (const box of await page.locator('input[name=picked]').all()) await box.check();
  await page.getByRole('button', { name: 'Add those ticked' }).click();
  assert.equal((await page.getByLabel('References').inputValue()).trim().split('\n').length, 4);
  await page.getByLabel('References').pressSequentially('NOBODY');
  for (const box of await page.locator('input[name=tasks], input[name=assessors]').all()) await box.check();
  await page.getByLabel('Other bays').fill('Bay 8');
  await page.getByRole('button', { name: 'Propose a plan' }).click();
  await page.locator('#references-fault', { hasText: 'NOBODY' }).waitFor();
  await good(page, 'a block with a fault');
  await page.getByLabel('References').fill('SQ-1041, SQ-1042, SQ-1043, SQ-1044');
  await page.getByRole('button', { name: 'Propose a plan' }).click();
  await page.getByText('Placed: 4. Left over: 0. Nothing clashes.').waitFor();
  await good(page, 'a block proposed');
  await page.getByRole('button', { name: 'Plan these 4 sessions' }).click();
  await page.getByText('The block is planned.').waitFor();
  assert.equal(await page.locator('.slot').count(), 4);
  await good(page, 'the plan of a week');
  assert.deepEqual(complaints, []);
  await context.close();
});

test('a verifier reads the plan, and every page fits a phone', async () => {
  const { context, page, complaints } = await open('bram', SCREENS.phone);
  for (const path of ['/plan', '/plan?span=week&by=assessor', '/plan?day=2031-01-01', '/sessions/all', '/sessions/all?q=nobody', '/plan/feed', '/']) {
    await page.goto(demo.address + path);
    await good(page, path);
    assert.equal(await page.getByRole('link', { name: 'Plan a session' }).count(), 0);
  }
  await page.goto(`${demo.address}/plan`);
  await page.locator('.slot').first().click();
  await good(page, 'a session, read only');
  assert.equal(await page.getByRole('button', { name: 'Save the change' }).count(), 0);
  await page.goto(`${demo.address}/plan/feed`);
  await page.getByRole('button', { name: 'Make an address' }).click();
  const address = await page.locator('.handout .code').innerText();
  await good(page, 'a calendar address');
  const calendar = await fetch(address);
  assert.equal(calendar.headers.get('content-type'), 'text/calendar; charset=utf-8');
  assert.match(await calendar.text(), /^BEGIN:VCALENDAR\r\n/);
  assert.deepEqual(complaints, []);
  await context.close();
});

test('a manager’s forms fit a phone and an assessor sees how the candidate is to be known', async () => {
  const { context, page } = await open('odile', SCREENS.phone);
  for (const path of ['/plan/new', '/plan/new?q=nobody', '/plan/block']) {
    await page.goto(demo.address + path);
    await good(page, path);
  }
  await page.goto(`${demo.address}/plan/new`);
  await page.getByRole('link', { name: 'Tamsin Oyelaran' }).click();
  await page.getByRole('button', { name: 'Plan this session' }).click();
  await good(page, 'a form with every fault');
  await context.close();
  const mine = await open('ines', SCREENS.portrait);
  await mine.page.getByRole('link', { name: /Prepare the bay/ }).click();
  await mine.page.getByRole('radio', { name: 'a document with a photograph' }).waitFor();
  await good(mine.page, 'the bay check');
  await mine.context.close();
});
