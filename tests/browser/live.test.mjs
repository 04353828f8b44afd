// A verifier watches a running session in a browser: what the assessor taps appears by itself.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { SCREENS, signIn, startBrowser, startDemo } from './demo.mjs';

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

test('what is tapped appears on the live page by itself, and a stop ends the stream', { timeout: 60_000 }, async () => {
  const open = async (name) => {
    const page = await (await browser.newContext({ viewport: SCREENS.landscape, hasTouch: true })).newPage();
    page.setDefaultTimeout(10_000);
    await signIn(page, demo, name);
    return page;
  };
  const [marking, live] = [await open('ines'), await open('bram')];
  await marking.getByRole('link', { name: 'Go on marking' }).first().click();
  await marking.waitForURL(/\/marking$/);
  await live.goto(marking.url().replace(/\/marking$/, '/live'));
  await live.getByText('Live: new entries appear by themselves.').waitFor();
  const before = await live.locator('.history li').count();
  await marking.getByRole('button', { name: 'Proves' }).first().tap();
  await live.waitForFunction((count) => document.querySelectorAll('.history li').length === count + 1, before);
  assert.match(await live.locator('.history li').first().textContent(), /Proved/);

  const began = Date.now();
  await demo.stop();
  demo = undefined;
  assert.ok(Date.now() - began < 8_000, 'an open stream does not hold the service up');
});
