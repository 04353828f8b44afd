// Without a network and with a bad one: no tap is ever lost.
import assert from 'node:assert/strict';
import { after, before } from 'node:test';
import { allKept, many, outbox, ready, saved, says, sync, tap, test } from './bench.mjs';
import { startRig } from './offline.mjs';

let demo;
let proxy;
let begin;
let inLog;
let whole;
let stop;

before(async () => {
  ({ demo, proxy, begin, inLog, whole, stop } = await startRig());
});

after(() => stop?.());

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
