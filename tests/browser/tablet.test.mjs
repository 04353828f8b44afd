// What a tablet keeps: dead storage, a killed browser, clocks that jump, two pages and two tablets.
import assert from 'node:assert/strict';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before } from 'node:test';
import { kill, logOf, many, openBay, outbox, plan, ready, saved, says, tap, test } from './bench.mjs';
import { SCREENS, startKept } from './demo.mjs';
import { startRig } from './offline.mjs';

let demo;
let browser;
let proxy;
let signedIn;
let begin;
let inLog;
let whole;
let stop;

before(async () => {
  ({ demo, browser, proxy, signedIn, begin, inLog, whole, stop } = await startRig());
});

after(() => stop?.());

test('S6: a dead handle is opened again; storage that stays dead is told within 3 s and costs nothing while there is a network', async () => {
  const { context, page, id } = await begin();
  proxy.cut();
  await page.evaluate(() => {
    const real = IDBDatabase.prototype.transaction;
    globalThis.dead = 1;
    IDBDatabase.prototype.transaction = function (...given) {
      if (globalThis.dead > 0) {
        globalThis.dead -= 1;
        throw new DOMException('The database connection is closing.', 'InvalidStateError');
      }
      return real.apply(this, given);
    };
  });
  await tap(page, 'E then N');
  await says(page, /1 saved on tablet/, 3_000);
  assert.equal((await outbox(page)).length, 1);
  await page.evaluate(() => { globalThis.dead = 1e9; });
  await tap(page, 'N then E');
  await says(page, /1 not saved on tablet/, 3_000);
  await page.evaluate(() => { globalThis.dead = 0; });
  await says(page, /2 saved on tablet/, 6_000);
  await page.evaluate(() => { globalThis.dead = 1e9; });
  await tap(page, 'E then SL');
  await says(page, /not saved on tablet/, 3_000);
  proxy.pass();
  await page.evaluate(() => dispatchEvent(new Event('online')));
  for (let tries = 0; tries < 100 && (await inLog(page, id)).length < 4; tries += 1) await page.waitForTimeout(100);
  await page.evaluate(() => { globalThis.dead = 0; });
  await whole(page, id, 4);
  await context.close();
});

test('S7: 500 taps, then kill -9: 500 are there; every write of the outbox is strict', async (t) => {
  proxy.pass();
  const profile = await mkdtemp(join(tmpdir(), 'bw-profile-'));
  const first = await startKept(profile, SCREENS.landscape);
  await first.addCookies(signedIn.cookies);
  await first.addInitScript(() => {
    const real = IDBDatabase.prototype.transaction;
    globalThis.writes = [];
    IDBDatabase.prototype.transaction = function (stores, mode, options) {
      if (mode === 'readwrite' && [stores].flat().includes('outbox')) globalThis.writes.push(options?.durability);
      return real.call(this, stores, mode, options);
    };
  });
  const page = await first.newPage();
  const id = plan(demo, 'stairwell');
  await openBay(page, proxy.address, id);
  await tap(page, 'Start');
  await saved(page);
  proxy.cut();
  const began = Date.now();
  await many(page, 500);
  await says(page, /500 saved on tablet/, 30_000);
  t.diagnostic(`500 taps in ${Date.now() - began} ms`);
  const writes = await page.evaluate(() => globalThis.writes);
  assert.ok(writes.length >= 500 && writes.every((one) => one === 'strict'));
  await kill(profile);
  const second = await startKept(profile, SCREENS.landscape);
  await second.addCookies(signedIn.cookies);
  const again = await second.newPage();
  proxy.pass();
  await again.goto(`${proxy.address}/sessions/${id}/marking`);
  await ready(again);
  await whole(again, id, 501);
  await second.close();
  await rm(profile, { recursive: true, force: true, maxRetries: 5 });
});

test('S8: the wall clock leaves the steady one by 20 minutes: both times are kept and the page says so', async () => {
  const { context, page, id } = await begin();
  await tap(page, 'E then N');
  await page.evaluate(() => {
    const real = Date.now;
    Date.now = () => real.call(Date) + 20 * 60_000;
  });
  await page.getByText('clock changed or tablet slept').waitFor({ timeout: 3_000 });
  await tap(page, 'N then E');
  await saved(page);
  const [, one, other] = await logOf(page, demo.address, id);
  assert.ok(other.at_ms - one.at_ms < 10_000, 'the steady clock goes on');
  assert.ok(Date.parse(other.wall) - Date.parse(one.wall) > 19 * 60_000, 'the wall clock is kept as it is');
  await context.close();
});

test('S9: storage cleared in the middle: the page says so within 5 s and puts back what it holds', async () => {
  const { context, page, id } = await begin();
  proxy.cut();
  await many(page, 5);
  await says(page, /5 saved on tablet/);
  const debug = await context.newCDPSession(page);
  await debug.send('Storage.clearDataForOrigin', { origin: proxy.address, storageTypes: 'indexeddb' });
  await says(page, /storage was cleared here/, 5_000);
  for (let tries = 0; tries < 50 && (await outbox(page)).length < 5; tries += 1) await page.waitForTimeout(100);
  assert.equal((await outbox(page)).length, 5);
  await tap(page, 'SL then E');
  proxy.pass();
  await page.evaluate(() => dispatchEvent(new Event('online')));
  await whole(page, id, 7);
  await context.close();
});

test('two pages of one session on one tablet: one sends at a time, numbers stay whole, each shows what the other did', async () => {
  const { context, page, id } = await begin();
  const other = await context.newPage();
  await other.goto(page.url());
  await ready(other);
  let open = 0;
  let most = 0;
  proxy.rule((request) => {
    if (request.url.endsWith('/entries')) {
      open += 1;
      most = Math.max(most, open);
      setTimeout(() => { open -= 1; }, 5);
    }
    return null;
  });
  proxy.cut();
  for (let turn = 0; turn < 6; turn += 1) {
    await page.bringToFront();
    await tap(page, turn % 2 === 0 ? 'E then N' : 'E then SL');
    await other.bringToFront();
    await tap(other, turn % 2 === 0 ? 'N then E' : 'SL then E');
  }
  await says(page, /12 saved on tablet/);
  await says(other, /12 saved on tablet/);
  proxy.pass();
  await Promise.all([page, other].map((one) => one.evaluate(() => dispatchEvent(new Event('online')))));
  await whole(page, id, 13);
  await saved(other);
  assert.equal(await other.locator('#history > summary').textContent(), 'All 13');
  await context.close();
});

test('two tablets on one session: everything is kept and each comes to see the other', async () => {
  const { context, page, id } = await begin();
  const second = await browser.newContext({ viewport: SCREENS.portrait, hasTouch: true, storageState: signedIn });
  const other = await second.newPage();
  await other.goto(page.url());
  await ready(other);
  await tap(other, /^Q2 /);
  await saved(other);
  await tap(page, /^Q1 /);
  await saved(page);
  await page.waitForFunction(() => document.querySelector('#history > summary').textContent === 'All 3');
  assert.equal(await page.locator('.board [data-marked]').count(), 2);
  const log = await logOf(page, demo.address, id);
  assert.deepEqual(log.map((one) => one.seq), [1, 1, 2], 'each tablet counts for itself');
  await context.close();
  await second.close();
});
