// What the tests without a network share: the demo behind a proxy, a signed-in assessor, and sessions that have begun.
import assert from 'node:assert/strict';
import { empty, logOf, openBay, plan, saved, sql, tap } from './bench.mjs';
import { SCREENS, signIn, startBrowser, startDemo } from './demo.mjs';
import { startProxy } from './proxy.mjs';

/** The demo, a browser, a proxy between them, and what they are used for. */
export async function startRig() {
  const demo = await startDemo();
  const browser = await startBrowser();
  const proxy = await startProxy(demo.address);
  const first = await browser.newPage();
  await signIn(first, { ...demo, address: proxy.address }, 'ines');
  const signedIn = await first.context().storageState();
  await first.close();

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

  async function stop() {
    await browser.close();
    await proxy.stop();
    await demo.stop();
  }

  return { demo, browser, proxy, signedIn, begin, inStore, inLog, whole, stop };
}
