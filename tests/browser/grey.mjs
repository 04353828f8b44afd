// Pictures without colour: what somebody sees who sees no colour at all, and how far two of them differ.
import assert from 'node:assert/strict';

/** Two grey values this far apart of 255 are told apart: 3:1 and more on white paper, the least contrast of a line (WCAG 1.4.11). */
const APART = 96;

/** A place to look at pictures, apart from the page they are of. */
export async function startEyes(browser) {
  const context = await browser.newContext();
  const page = await context.newPage();
  await page.goto('about:blank');

  /** Lets a page be seen without colour from now on, as Chromium emulates it (achromatopsia). */
  async function withoutColour(seen) {
    const debug = await seen.context().newCDPSession(seen);
    await debug.send('Emulation.setEmulatedVisionDeficiency', { type: 'achromatopsia' });
  }

  /** A picture of an element as it stands. That no colour is left in it is checked, not believed. */
  async function look(locator) {
    const png = (await locator.screenshot({ animations: 'disabled' })).toString('base64');
    const tint = await page.evaluate(async (base64) => {
      const bitmap = await createImageBitmap(await (await fetch(`data:image/png;base64,${base64}`)).blob());
      const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
      const context = canvas.getContext('2d');
      context.drawImage(bitmap, 0, 0);
      const { data } = context.getImageData(0, 0, bitmap.width, bitmap.height);
      let most = 0;
      for (let at = 0; at < data.length; at += 4) most = Math.max(most, Math.abs(data[at] - data[at + 1]), Math.abs(data[at + 1] - data[at + 2]));
      return most;
    }, png);
    assert.ok(tint <= 3, `a colour is left: ${tint}`);
    return png;
  }

  /**
   * How much of two grey pictures is told apart, in percent of the larger one's points: those whose grey values differ by
   * at least APART. Where one is smaller, white stands beside it.
   */
  function differs(one, other) {
    return page.evaluate(async ([pictures, apart]) => {
      const bitmaps = await Promise.all(pictures.map(async (base64) => createImageBitmap(await (await fetch(`data:image/png;base64,${base64}`)).blob())));
      const [width, height] = ['width', 'height'].map((side) => Math.max(...bitmaps.map((one) => one[side])));
      const [a, b] = bitmaps.map((bitmap) => {
        const context = new OffscreenCanvas(width, height).getContext('2d');
        context.fillStyle = '#fff';
        context.fillRect(0, 0, width, height);
        context.drawImage(bitmap, 0, 0);
        return context.getImageData(0, 0, width, height).data;
      });
      let count = 0;
      for (let at = 0; at < a.length; at += 4) if (Math.abs(a[at] - b[at]) >= apart) count += 1;
      return count * 100 / (width * height);
    }, [[one, other], APART]);
  }

  return { withoutColour, look, differs };
}
