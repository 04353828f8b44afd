// Without a network, with a bad one, and with a browser that dies: no tap is ever lost.
import assert from 'node:assert/strict';
import { mkdtemp, readFile, readdir, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before } from 'node:test';
import { allKept, logOf, openBay, outbox, plan, ready, saved, says, sql, sync, tap, test } from './bench.mjs';
import { SCREENS, signIn, startBrowser, startDemo, startKept } from './demo.mjs';
import { startProxy } from './proxy.mjs';

let demo;
let browser;
let proxy;
let signedIn;

before(async () => {
  demo = await startDemo();
  browser = await startBrowser();
  proxy = await startProxy(demo.address);
  const page = await browser.newPage();
  await signIn(page, { ...demo, address: proxy.address }, 'ines');
  signedIn = await page.context().storageState();
  await page.close();
});

after(async () => {
  await browser?.close();
  await proxy?.stop();
  await demo?.stop();
});

/** A page of a fresh session behind the proxy, started. */
async function begin(title = 'stairwell', prepare = async () => undefined) {
  proxy.pass();
  const context = await browser.newContext({ viewport: SCREENS.landscape, hasTouch: true, storageState: signedIn });
  await prepare(context);
  const page = await context.newPage();
  page.setDefaultTimeout(10_000);
  const id = plan(demo, title);
  await openBay(page, proxy.address, id);
  await tap(page, 'Start');
  await saved(page);
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
  return { context, page, id };
}

/** Many taps on tiles that change nothing about each other, as fast as they come. */
async function many(page, count) {
  const spots = [];
  for (const selector of ['#p1a', '#p2a', '#p3a', '#p1b', '#p2b', '#p3b']) {
    const { x, y, width, height } = await page.locator(selector).boundingBox();
    spots.push([x + width / 2, y + height / 2]);
  }
  for (let at = 0; at < count; at += 1) await page.touchscreen.tap(...spots[at % spots.length]);
}

/** How many observations the service holds, whoever is signed in. */
const inStore = (id) => Number(sql(demo, `SELECT count(*) FROM entries WHERE session_id = '${id}' AND kind = 'observation'`));

const inLog = async (page, id) => (await logOf(page, demo.address, id)).map((one) => one.id);

/** What was recorded is with the service, once each, in the tablet's numbers without a gap. */
async function whole(page, id, count) {
  await saved(page, 20_000);
  const log = await logOf(page, demo.address, id);
  assert.equal(new Set(log.map((one) => one.id)).size, log.length);
  assert.equal(log.length, count);
  assert.deepEqual(log.map((one) => one.seq).sort((a, b) => a - b), log.map((_, at) => at + 1));
  await empty(page);
  return log;
}

/** Nothing waits on the disk either, at the latest when the page has looked around. */
async function empty(page) {
  for (let tries = 0; tries < 50 && (await outbox(page)).length > 0; tries += 1) await page.waitForTimeout(100);
  assert.deepEqual(await outbox(page), []);
}

test('half an hour without a network: 200 taps and two reloads cost nothing but delay', async (t) => {
  const { context, page, id } = await begin('stairwell', (one) => one.clock.install());
  proxy.cut();
  for (let part = 0; part < 20; part += 1) {
    await many(page, 10);
    await says(page, new RegExp(`${(part + 1) * 10} saved on tablet`));
    await context.clock.fastForward(90_000);
    if (part === 6 || part === 13) {
      await page.reload();
      await ready(page);
      await says(page, new RegExp(`${(part + 1) * 10} saved on tablet`));
      assert.match(await page.locator('#history > summary').textContent(), new RegExp(`All ${(part + 1) * 10 + 1}$`));
    }
  }
  assert.match(await page.locator('#clock').textContent(), /^3[01]:/);
  assert.match(await sync(page), /tap to save them as a file/);
  assert.ok(await page.locator('#as-of').isVisible());
  const kept = await allKept(page);
  for (const name of ['Tamsin', 'Oyelaran', 'Ines', 'Calloway']) assert.ok(!kept.includes(name), `${name} is kept on the tablet`);
  const before = Date.now();
  proxy.pass();
  await page.evaluate(() => dispatchEvent(new Event('online')));
  await saved(page, 20_000);
  t.diagnostic(`200 observations sent in ${Date.now() - before} ms`);
  const log = await whole(page, id, 201);
  const times = log.map((one) => one.at_ms);
  assert.deepEqual(times, [...times].sort((a, b) => a - b));
  assert.ok(times.at(-1) > 28 * 60_000, `${times.at(-1)}`);
  await context.close();
});

test('S2: 401, 403, 500, 502, 503, 429 are not “sent”; Retry-After is obeyed', async () => {
  const { context, page, id } = await begin();
  let wanted = 0;
  let asked = [];
  proxy.rule((request) => {
    if (!request.url.endsWith('/entries')) return null;
    asked.push(Date.now());
    return { status: wanted, headers: wanted === 429 ? { 'retry-after': '3' } : {} };
  });
  for (const [at, status] of [401, 403, 500, 502, 503, 429].entries()) {
    wanted = status;
    asked = [];
    await tap(page, at % 2 === 0 ? 'E then N' : 'N then E');
    await page.waitForFunction((count) => new RegExp(`(^|\\D)${count} saved on tablet`).test(document.getElementById('sync-says').textContent), at + 1);
    for (let tries = 0; asked.length === 0 && tries < 60; tries += 1) await page.waitForTimeout(50);
    assert.ok(asked.length > 0, `${status} was never asked`);
    assert.equal((await outbox(page)).length, at + 1, `${status}`);
  }
  await page.waitForTimeout(300);
  const before = asked.length;
  await tap(page, 'E then SL');
  await page.waitForTimeout(1_500);
  assert.equal(asked.length, before, 'nothing is sent before Retry-After is over');
  proxy.rule(null);
  await whole(page, id, 8);
  await context.close();
});

test('S3: without any sync event, what waits is sent within 3 s of contact', async (t) => {
  const { context, page, id } = await begin();
  proxy.cut();
  await context.setOffline(true);
  await many(page, 12);
  await says(page, /12 saved on tablet/);
  await page.waitForTimeout(4_000);
  proxy.pass();
  const began = Date.now();
  await context.setOffline(false);
  await saved(page, 3_000);
  t.diagnostic(`${Date.now() - began} ms after contact`);
  await whole(page, id, 13);
  await context.close();
});

test('S4: a limit of 8 KiB on the way: 200 arrive; one too large for itself is listed and kept', async () => {
  const { context, page, id } = await begin();
  proxy.cut();
  await many(page, 200);
  await tap(page, 'Note');
  await page.locator('#words-202 > summary').tap();
  await page.getByRole('textbox').fill('far too large '.repeat(120));
  await page.getByRole('button', { name: 'Put into words' }).tap();
  await says(page, /203 saved on tablet/);
  proxy.pass();
  proxy.rule((request, body) => (request.url.endsWith('/entries') && (body.length > 8192 || body.includes('far too large')) ? { status: 413 } : null));
  await page.evaluate(() => dispatchEvent(new Event('online')));
  await says(page, /1 refused, tap/, 30_000);
  for (let tries = 0; tries < 100 && (await outbox(page)).length > 1; tries += 1) await page.waitForTimeout(100);
  assert.deepEqual((await outbox(page)).map((row) => row.trouble), ['too large for the service']);
  assert.equal((await inLog(page, id)).length, 203);
  await page.locator('#sync-says').tap();
  assert.match(await page.locator('#trouble-list').textContent(), /#\d+ remark: too large for the service/);
  await context.close();
});

test('conflict and refused stay, are shown, and block nobody', async () => {
  const { context, page, id } = await begin();
  let first = true;
  proxy.rule((request, body) => {
    if (!request.url.endsWith('/entries') || !first) return null;
    first = false;
    const { observations } = JSON.parse(body.toString());
    const answers = observations.map((one) => ({ id: one.id, conflict: true }));
    return { status: 200, headers: { 'content-type': 'application/json' }, body: JSON.stringify({ answers, head: { count: 1, hash: '' }, now: 0, fragment: '' }) };
  });
  await tap(page, 'E then N');
  await says(page, /1 refused, tap/);
  await tap(page, 'N then E');
  for (let tries = 0; tries < 60 && (await inLog(page, id)).length < 2; tries += 1) await page.waitForTimeout(50);
  assert.equal((await inLog(page, id)).length, 2);
  await page.reload();
  await ready(page);
  await says(page, /1 refused, tap/);
  assert.equal((await outbox(page)).length, 1);
  await context.close();
});

test('a black hole: the tap is kept, and a reload opens the page from the tablet', async () => {
  const { context, page, id } = await begin();
  proxy.hole();
  await tap(page, 'E then N');
  await says(page, /1 saved on tablet/);
  const began = Date.now();
  await page.reload();
  await ready(page);
  assert.ok(Date.now() - began < 8_000);
  await says(page, /1 saved on tablet/);
  await tap(page, 'N then E');
  await says(page, /2 saved on tablet/);
  assert.match(await page.locator('.rounds tbody').textContent(), /▲/);
  assert.doesNotMatch(await page.locator('#record').textContent(), /Tamsin/);
  proxy.pass();
  await page.evaluate(() => dispatchEvent(new Event('online')));
  await whole(page, id, 3);
  await page.getByText('Tamsin Oyelaran').waitFor({ timeout: 20_000 });
  await context.close();
});

test('S5: a new version waits until everything is sent and the assessor agrees', async () => {
  const { context, page, id } = await begin();
  const script = await (await page.request.get(`${demo.address}/marking-worker.js`)).text();
  proxy.rule((request) => {
    if (request.url === '/marking-worker.js') return { status: 200, headers: { 'content-type': 'text/javascript', 'cache-control': 'no-cache' }, body: `${script}\n// a later version` };
    return request.url.endsWith('/entries') ? { status: 503 } : null;
  });
  await many(page, 50);
  await says(page, /50 saved on tablet/);
  await page.evaluate(async () => {
    const registration = await navigator.serviceWorker.ready;
    await registration.update();
    for (let tries = 0; registration.waiting === null && tries < 100; tries += 1) await new Promise((resolve) => setTimeout(resolve, 50));
  });
  await tap(page, 'E then N');
  assert.doesNotMatch(await sync(page), /new version/);
  const later = `${script}\n// a later version`;
  proxy.rule((request) => (request.url === '/marking-worker.js' ? { status: 200, headers: { 'content-type': 'text/javascript' }, body: later } : null));
  await page.evaluate(() => dispatchEvent(new Event('online')));
  await says(page, /all saved · new version, tap/, 15_000);
  await page.locator('#sync-says').tap();
  const reloaded = page.waitForEvent('load');
  await page.getByRole('button', { name: 'Take the new version' }).tap();
  await reloaded;
  await ready(page);
  await whole(page, id, 52);
  await context.close();
});

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

/** Kills the browser of a kept profile, by the ids of its processes. */
async function kill(profile) {
  for (const pid of (await readdir('/proc')).filter((name) => /^\d+$/.test(name))) {
    const line = await readFile(`/proc/${pid}/cmdline`, 'utf8').catch(() => '');
    if (line.includes(profile) && line.includes('chrom')) try { process.kill(Number(pid), 'SIGKILL'); } catch { /* it is gone already */ }
  }
}

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

test('S1: the browser dies and answers get lost at random moments of sending: tablet and service together have all', async (t) => {
  proxy.pass();
  const profile = await mkdtemp(join(tmpdir(), 'bw-profile-'));
  const id = plan(demo, 'stairwell');
  let made = 0;
  const rounds = 6;
  for (let round = 0; round < rounds; round += 1) {
    const context = await startKept(profile, SCREENS.landscape);
    await context.addCookies(signedIn.cookies);
    const page = await context.newPage();
    proxy.rule(null);
    if (round === 0) {
      await openBay(page, proxy.address, id);
      await tap(page, 'Start');
      made += 1;
    } else {
      await page.goto(`${proxy.address}/sessions/${id}/marking`);
      await ready(page);
    }
    await saved(page, 15_000);
    proxy.rule((request) => (request.url.endsWith('/entries') && Math.random() < 0.3 ? { lose: true } : null));
    await many(page, 20);
    made += 20;
    // Only what the tablet called saved counts; then it dies somewhere in its sending.
    await page.waitForFunction(() => /saved/.test(document.getElementById('sync-says').textContent) && !/saving/.test(document.getElementById('sync-says').textContent));
    await page.waitForTimeout(Math.random() * 250);
    await kill(profile);
  }
  proxy.rule(null);
  const context = await startKept(profile, SCREENS.landscape);
  await context.addCookies(signedIn.cookies);
  const page = await context.newPage();
  await page.goto(`${proxy.address}/sessions/${id}/marking`);
  await ready(page);
  await whole(page, id, made);
  t.diagnostic(`${rounds} deaths, ${made} observations, none lost, none doubled`);
  await context.close();
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

test('a sign-in that ran out costs no tap; only the person who tapped can send; then all is sent', async () => {
  const { context, page, id } = await begin();
  await context.clearCookies();
  for (const name of ['E then N', 'N then E', 'E then SL']) await tap(page, name);
  await says(page, /signed out, 3 saved on tablet/);
  await page.locator('#gate[open]').waitFor({ timeout: 12_000 });
  await page.locator('#p3b').tap();
  await says(page, /signed out, 4 saved on tablet/);
  const enter = async (name) => {
    await page.getByLabel('Sign-in name').fill(`${name}@sable-quay`);
    await page.getByLabel('Password').fill(demo.signIns[name]);
    await page.getByRole('button', { name: 'Sign in', exact: true }).tap();
  };
  await enter('bram');
  await page.getByText('That is another person').waitFor();
  await page.waitForTimeout(1_500);
  assert.equal((await outbox(page)).length, 4, 'nothing went out under another name');
  assert.equal(inStore(id), 1);
  await enter('ines');
  await saved(page, 15_000);
  assert.equal(inStore(id), 5);
  assert.deepEqual(await outbox(page), []);
  await context.close();
});

test('another user of the tablet sees how many a colleague left, and can neither read nor send them', async () => {
  const { context, page, id } = await begin();
  proxy.cut();
  for (const name of ['E then N', 'Note', /^Work at height/]) await tap(page, name);
  await says(page, /4 saved on tablet/);
  await page.close();
  proxy.pass();
  sql(demo, `UPDATE staff SET roles = roles || '{assessor}' WHERE sign_in_name = 'bram' AND NOT roles @> '{assessor}'`);
  await context.clearCookies();
  const other = await context.newPage();
  await signIn(other, { ...demo, address: proxy.address }, 'bram');
  const own = plan(demo, 'stairwell', 2);
  await openBay(other, proxy.address, own);
  await tap(other, 'Start');
  await says(other, /all saved · 4 of a colleague/);
  assert.doesNotMatch(await other.locator('body').textContent(), /Work at height/);
  await other.waitForTimeout(2_500);
  assert.equal((await outbox(other)).length, 4);
  assert.equal(inStore(id), 1);
  await context.clearCookies();
  await context.addCookies(signedIn.cookies);
  const back = await context.newPage();
  await back.goto(`${proxy.address}/sessions/${id}/marking`);
  await ready(back);
  await whole(back, id, 5);
  await context.close();
});

test('the tablet locks after 20 idle minutes, never while offline', async () => {
  const { context, page } = await begin('stairwell', (one) => one.clock.install());
  proxy.cut();
  await tap(page, 'E then N');
  await says(page, /offline, 1 saved on tablet/);
  await context.clock.fastForward(21 * 60_000);
  await page.waitForTimeout(1_000);
  assert.equal(await page.locator('#gate[open]').count(), 0);
  proxy.pass();
  await tap(page, 'N then E');
  await saved(page, 15_000);
  await context.clock.fastForward(21 * 60_000);
  await page.getByRole('heading', { name: 'Locked' }).waitFor();
  assert.ok(await page.locator('#gate').evaluate((one) => one.matches(':modal')));
  await page.keyboard.press('Escape');
  assert.equal(await page.locator('#gate[open]').count(), 1);
  await page.getByLabel('Sign-in name').fill('ines@sable-quay');
  await page.getByLabel('Password').fill(demo.signIns.ines);
  await page.getByRole('button', { name: 'Sign in', exact: true }).tap();
  await page.locator('#gate[open]').waitFor({ state: 'detached' });
  await tap(page, 'E then SL');
  await saved(page);
  await context.close();
});
