// What the tests of the marking page with a network share: the demo, and signed-in pages.
import { signIn, SCREENS, startBrowser, startDemo } from './demo.mjs';

/** The demo, a browser, and pages on which the assessor is signed in. */
export async function startPages() {
  const demo = await startDemo();
  const browser = await startBrowser();
  const page = await browser.newPage();
  await signIn(page, demo, 'ines');
  const signedIn = await page.context().storageState();
  await page.close();

  /** A signed-in page; what the browser complains about fails the test that asks. */
  async function open(viewport = SCREENS.landscape, more = {}) {
    const context = await browser.newContext({ viewport, hasTouch: true, storageState: signedIn, ...more });
    const page = await context.newPage();
    page.setDefaultTimeout(10_000);
    const complaints = [];
    page.on('console', (message) => { if (message.type() === 'error') complaints.push(message.text()); });
    page.on('pageerror', (error) => complaints.push(String(error)));
    return { context, page, complaints };
  }

  async function stop() {
    await browser.close();
    await demo.stop();
  }

  return { demo, browser, signedIn, open, stop };
}

/** A pointer that is down, moved and let go. */
export async function touches(debug, type, ...points) {
  await debug.send('Input.dispatchTouchEvent', { type, touchPoints: points.map(({ x, y }, id) => ({ x, y, id })) });
}

/** The middle of an element. */
export async function middle(page, selector) {
  const { x, y, width, height } = await page.locator(selector).boundingBox();
  return { x: x + width / 2, y: y + height / 2 };
}
