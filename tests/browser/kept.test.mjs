// What a tablet keeps of a session goes when it is needed no more, never before; and an idle tablet says that it is there.
import assert from 'node:assert/strict';
import { after, before } from 'node:test';
import { decideAndSign, empty, keptPages, openBay, outbox, plan, ready, saved, says, sql, sync, tap, test } from './bench.mjs';
import { SCREENS } from './demo.mjs';
import { startRig } from './offline.mjs';

let demo;
let browser;
let proxy;
let signedIn;
let begin;
let stop;

before(async () => {
  ({ demo, browser, proxy, signedIn, begin, stop } = await startRig());
});

after(() => stop?.());

/** The same person on another tablet. */
async function otherTablet() {
  const context = await browser.newContext({ viewport: SCREENS.landscape, hasTouch: true, storageState: signedIn });
  const page = await context.newPage();
  page.setDefaultTimeout(10_000);
  return page;
}

/** Waits until the tablet keeps just these of its sessions. */
async function keeps(page, ids, staff = 1) {
  const wanted = ids.map((id) => `${id},${staff}`).sort();
  let kept = [];
  for (let tries = 0; tries < 60; tries += 1) {
    kept = (await keptPages(page)).sort();
    if (JSON.stringify(kept) === JSON.stringify(wanted)) return;
    await page.waitForTimeout(100);
  }
  assert.deepEqual(kept, wanted);
}

const nothingWasCleared = async (page) => assert.doesNotMatch(await sync(page), /cleared/);

test('once signed, the page leaves the tablet that signed; that of another session stays', async () => {
  const { context, page, id } = await begin();
  const other = plan(demo, 'stairwell');
  await openBay(page, proxy.address, other);
  await tap(page, 'Start');
  await saved(page);
  await keeps(page, [id, other]);
  await page.goto(`${proxy.address}/sessions/${id}/marking`);
  await ready(page);
  await tap(page, 'End');
  await saved(page);
  await decideAndSign(page, proxy.address, id, demo.signIns.ines);
  await keeps(page, [other]);
  proxy.cut();
  await page.goto(`${proxy.address}/sessions/${id}/marking`);
  await page.getByText('This tablet does not keep this session').waitFor();
  await page.goto(`${proxy.address}/sessions/${other}/marking`);
  await ready(page);
  await context.close();
});

test('what is not sent stays, with its page, until the service has it', async () => {
  const { context, page, id } = await begin();
  proxy.rule((request) => (request.url.endsWith('/entries') ? { drop: true } : null));
  await tap(page, 'E then N');
  await says(page, /1 saved on tablet/);
  const far = await otherTablet();
  await far.goto(`${demo.address}/sessions/${id}/marking`);
  await ready(far);
  await tap(far, 'End');
  await saved(far);
  await decideAndSign(far, demo.address, id, demo.signIns.ines);
  for (const path of ['/', `/sessions/${id}/sheet`]) {
    await page.goto(`${proxy.address}${path}`);
    await page.waitForLoadState('networkidle');
    await keeps(page, [id]);
    assert.equal((await outbox(page)).length, 1, path);
  }
  proxy.rule(null);
  const next = plan(demo, 'stairwell');
  await openBay(page, proxy.address, next);
  await empty(page);
  await keeps(page, [next]);
  assert.equal(sql(demo, `SELECT count(*) FROM entries WHERE session_id = '${id}' AND kind = 'late'`), '1');
  await far.context().close();
  await context.close();
});

test('a page that is open when its session is signed elsewhere lets go of what it keeps, in every tab', async () => {
  const { context, page, id } = await begin();
  const tab = await context.newPage();
  await tab.goto(page.url());
  await ready(tab);
  await tap(page, 'End');
  await saved(page);
  const far = await otherTablet();
  await decideAndSign(far, demo.address, id, demo.signIns.ines);
  await tap(page, 'Back to marking');
  await saved(page);
  await keeps(page, []);
  await page.waitForTimeout(5_000);
  await keeps(page, []);
  for (const one of [page, tab]) await nothingWasCleared(one);
  await far.context().close();
  await context.close();
});

test('the page of a session that became somebody else’s goes with the next look at the list; a colleague’s stays', async () => {
  const { context, page, id } = await begin();
  const mine = plan(demo, 'stairwell');
  await openBay(page, proxy.address, mine);
  await page.evaluate(() => new Promise((resolve) => {
    const asked = indexedDB.open('baywitness');
    asked.onsuccess = () => {
      const done = asked.result.transaction('sessions', 'readwrite');
      done.objectStore('sessions').put({ session: 'of-a-colleague', staff: 2, seq: 0, base: null, jumps: [], page: '', log: [], count: 0, head: '' });
      done.oncomplete = () => { asked.result.close(); resolve(undefined); };
    };
  }));
  // The plan of an opened session never changes; the database alone can stand for what a tablet may come upon.
  sql(demo, `ALTER TABLE sessions DISABLE TRIGGER USER; UPDATE sessions SET assessor = 3 WHERE session_id = '${id}';
    ALTER TABLE sessions ENABLE TRIGGER USER`);
  await page.goto(`${proxy.address}/`);
  for (let tries = 0; tries < 50 && (await keptPages(page)).length > 2; tries += 1) await page.waitForTimeout(100);
  assert.deepEqual((await keptPages(page)).sort(), [`${mine},1`, 'of-a-colleague,2'].sort());
  await context.close();
});

/** Requests to the entries endpoint since the `from`th. */
const posted = (from) => proxy.seen.slice(from).filter((one) => one.path.endsWith('/entries')).map((one) => JSON.parse(one.body));

test('an idle tablet in contact says so once a minute, only while somebody marks and looks', async () => {
  const { context, page, id } = await begin('stairwell', (one) => one.clock.install());
  await tap(page, 'E then N');
  await saved(page);
  const from = proxy.seen.length;
  for (let passed = 0; passed < 6; passed += 1) {
    await context.clock.fastForward(30_000);
    await page.waitForTimeout(400);
  }
  const idle = posted(from);
  assert.ok(idle.length >= 2 && idle.length <= 3, `${idle.length} in three minutes`);
  assert.ok(idle.every((one) => one.observations.length === 0 && one.high === 2), JSON.stringify(idle));
  const kept = sql(demo, `SELECT count(*) || ' ' || min(high) FROM contacts WHERE session_id = '${id}'`);
  assert.match(kept, /^[1-3] 2$/);
  await page.evaluate(() => Object.defineProperty(document, 'visibilityState', { value: 'hidden', configurable: true }));
  const hidden = proxy.seen.length;
  await context.clock.fastForward(120_000);
  await page.waitForTimeout(400);
  assert.deepEqual(posted(hidden), [], 'nobody looks');
  await page.evaluate(() => Object.defineProperty(document, 'visibilityState', { value: 'visible', configurable: true }));
  await tap(page, 'End');
  await saved(page);
  const ended = proxy.seen.length;
  await context.clock.fastForward(120_000);
  await page.waitForTimeout(400);
  assert.deepEqual(posted(ended), [], 'nobody marks');
  await context.close();
});
