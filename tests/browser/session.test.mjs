// One whole job in a real browser: the assessor marks a session, decides and signs; the candidate reads the sheet.
import assert from 'node:assert/strict';
import { after, before, test as plain } from 'node:test';
import { accessible, fits } from './axe.mjs';
import { SCREENS, openPage, signIn, startBrowser, startDemo } from './demo.mjs';

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

/** A page that reports what the browser complains about. */
async function open(viewport, more = {}) {
  return openPage(browser, viewport, more);
}

const tile = (page, name) => page.getByRole('button', { name }).first();

/** Taps and waits until the record shows one observation more. */
async function tap(page, name) {
  const count = Number(await page.locator('#record').getAttribute('data-count'));
  await tile(page, name).tap();
  await page.waitForFunction((before) => Number(document.getElementById('record')?.dataset.count) > before, count);
}

async function toMarking(page) {
  await signIn(page, demo, 'ines');
  await page.getByRole('link', { name: 'Prepare the bay' }).first().click();
  for (const box of await page.getByRole('checkbox').all()) await box.check();
  await page.getByRole('radio').first().check();
  await page.getByRole('button', { name: 'Open the marking page' }).click();
  await page.waitForURL(/\/marking$/);
}

// Before the session that it is about is opened.
test('the bay check fits, at three sizes', async () => {
  const { context, page, complaints } = await open(SCREENS.landscape);
  await signIn(page, demo, 'ines');
  await page.getByRole('link', { name: /Prepare the bay/ }).first().click();
  for (const [size, viewport] of Object.entries(SCREENS)) {
    await page.setViewportSize(viewport);
    assert.equal(await page.getByRole('heading', { level: 1 }).textContent(), 'Bay check');
    await accessible(page, `bay check, ${size}`);
    await fits(page, `bay check, ${size}`);
  }
  assert.deepEqual(complaints, []);
  await context.close();
});

test('from the bay check to the candidate who reads the feedback', async () => {
  const { context, page, complaints } = await open(SCREENS.landscape);
  await toMarking(page);
  await accessible(page, 'marking, before the start');
  await tap(page, 'Start');
  for (const name of ['Finds circuit', 'Asks leave', /^Padlock/, 'Declares']) await tap(page, name);
  await tap(page, /^E then N/);
  assert.match(await page.locator('#last-says').textContent(), /E/);
  await tap(page, 'Strike');
  await accessible(page, 'marking, running');
  await tap(page, 'End');
  await page.getByRole('link', { name: 'Decide' }).click();
  await accessible(page, 'decide');

  // Nothing can be signed while an automatic fail is only proposed or something is left to judge.
  assert.equal(await page.getByRole('button', { name: 'Sign the result' }).count(), 0);
  const proposed = await page.getByRole('button', { name: 'Confirm: not met' }).count();
  assert.ok(proposed > 3, `${proposed} automatic fails are proposed`);
  const needed = page.locator('article', { hasText: 'needs you' });
  for (let left = await needed.count(); left > 0; left -= 1) {
    await needed.first().getByRole('button', { name: /^(Confirm: not met|\W*Met)$/ }).click();
    await page.waitForLoadState();
    assert.equal(await needed.count(), left - 1);
  }
  await page.getByLabel(/^Password of/).fill('not the password');
  await page.getByRole('button', { name: 'Sign the result' }).click();
  await page.locator('#signature-fault').waitFor();
  await page.getByLabel(/^Password of/).fill(demo.signIns.ines);
  await page.getByRole('button', { name: 'Sign the result' }).click();

  await page.getByRole('heading', { name: /^Signed/ }).waitFor();
  const [link, code] = await page.locator('.handout .code bdi').allTextContents();
  await page.getByRole('link', { name: 'Go to the result sheet' }).click();
  await page.getByRole('heading', { name: 'Result sheet' }).waitFor();
  assert.match(await page.locator('main').textContent(), /automatic fail/);
  await accessible(page, 'result sheet');
  assert.deepEqual(complaints.filter((line) => !/40[139]|422/.test(line)), []);
  await context.close();

  const candidate = await open(SCREENS.phone);
  await candidate.page.goto(link);
  await accessible(candidate.page, 'asking for the code');
  await candidate.page.getByRole('textbox').fill('AAAA-AAAA');
  await candidate.page.getByRole('button').first().click();
  assert.match(await candidate.page.locator('main').textContent(), /code/i);
  await candidate.page.getByRole('textbox').fill(code);
  await candidate.page.getByRole('button').first().click();
  await candidate.page.waitForURL(`${demo.address}/feedback`);
  const says = await candidate.page.locator('main').textContent();
  assert.match(says, /You did not pass this time\./);
  assert.match(says, /What to change first/);
  await accessible(candidate.page, 'candidate');
  await fits(candidate.page, 'candidate');
  await candidate.context.close();
  assert.ok(!demo.log().includes(link.split('/').pop()), 'the link is in no log');
});

test('the marking page works without script, one form post a tap', async () => {
  const { context, page } = await open(SCREENS.portrait, { javaScriptEnabled: false });
  await signIn(page, demo, 'ines');
  await page.getByRole('link', { name: 'Go on marking' }).first().click();
  const before = await page.locator('summary', { hasText: /^All/ }).textContent();
  await tile(page, /^N then SL/).click();
  await page.waitForLoadState();
  const afterwards = await page.locator('summary', { hasText: /^All/ }).textContent();
  assert.equal(Number(afterwards.match(/\d+/)[0]), Number(before.match(/\d+/)[0]) + 1);
  assert.match(await page.locator('.last').textContent(), /N then SL/);
  await context.close();
});

test('the marking page fits a tablet both ways without scrolling, and no tile overlaps another', async () => {
  for (const name of ['landscape', 'portrait']) {
    const { context, page } = await open(SCREENS[name]);
    await signIn(page, demo, 'ines');
    await page.getByRole('link', { name: 'Go on marking' }).first().click();
    await page.waitForURL(/\/marking$/);
    const [height, screen] = await page.evaluate(() => [document.documentElement.scrollHeight, innerHeight]);
    assert.ok(height <= screen, `${name}: ${height} px high on a screen of ${screen}`);
    await fits(page, name);
    // Seen and measured in one go: the scripts may draw the page anew in between.
    const boxes = await page.evaluate(() => [...document.querySelectorAll('#record button, #record summary')]
      .filter((one) => one.checkVisibility({ visibilityProperty: true }) && one.getClientRects().length > 0)
      .map((one) => { const { x, y, width, height } = one.getBoundingClientRect(); return { x, y, width, height, says: one.textContent.trim() }; }));
    assert.ok(boxes.length > 30);
    for (const [at, one] of boxes.entries()) {
      assert.ok(Math.min(one.width, one.height) >= 60, `${name}: “${one.says}” is ${one.width} by ${one.height}`);
      for (const other of boxes.slice(at + 1)) {
        const apart = one.x + one.width <= other.x || other.x + other.width <= one.x || one.y + one.height <= other.y || other.y + other.height <= one.y;
        assert.ok(apart, `${name}: “${one.says}” overlaps “${other.says}”`);
      }
    }
    await context.close();
  }
});

test('every page is accessible and no wider than the screen, at three sizes', async () => {
  for (const [size, viewport] of Object.entries(SCREENS)) {
    const { context, page, complaints } = await open(viewport);
    await page.goto(`${demo.address}/sign-in`);
    await accessible(page, `sign-in, ${size}`);
    await signIn(page, demo, 'odile');
    const tasks = ['/tasks'];
    await page.goto(`${demo.address}/tasks`);
    tasks.push(...await page.locator('a[href^="/tasks/"]').evaluateAll((links) => links.map((one) => one.getAttribute('href'))));
    assert.ok(tasks.length >= 4, `only ${tasks.length} addresses`);
    await page.goto(demo.address);
    const sessions = await page.locator('a[href^="/sessions/"]').evaluateAll((links) => links.map((one) => one.getAttribute('href')));
    for (const path of ['/', ...tasks, ...sessions]) {
      await page.goto(demo.address + path);
      await accessible(page, `${path}, ${size}`);
      await fits(page, `${path}, ${size}`);
    }
    await page.goto(`${demo.address}/no-such-page`);
    await accessible(page, `missing, ${size}`);
    assert.deepEqual(complaints.filter((line) => !/404/.test(line)), []);
    await context.close();
  }
});
