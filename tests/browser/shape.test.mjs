// How the marking page lies on every screen: sizes, gaps, nothing moves, what it weighs, and axe-core.
import assert from 'node:assert/strict';
import { after, before } from 'node:test';
import { gzipSync } from 'node:zlib';
import { accessible } from './axe.mjs';
import { flawless, openBay, plan, ready, saved, tap, test } from './bench.mjs';
import { SCREENS } from './demo.mjs';
import { startPages } from './pages.mjs';

let demo;
let browser;
let signedIn;
let open;
let stop;

before(async () => {
  ({ demo, browser, signedIn, open, stop } = await startPages());
});

after(() => stop?.());

/** Names without a short form: a language whose words are longer gives them one. */
const LONGER_MAY_BE_CUT = ':is(.items, .board) .label:not(:has(.short))';

/** Every place that can be touched, with what it must measure at least. */
function places(page) {
  return page.evaluate(() => [...document.querySelectorAll('#record button, #record summary, #record a.tile')].filter((one) => one.checkVisibility() && one.closest('.drop') === null).map((one) => {
    const { x, y, width, height } = one.getBoundingClientRect();
    const label = one.querySelector('.label') ?? one;
    const least = one.closest('.pair') ? 96 : one.closest('.acts') ? 76 : 60;
    return { x, y, width, height, least, says: one.textContent.trim(), pair: [...document.querySelectorAll('.pair')].indexOf(one.closest('.pair')),
      wide: label.scrollWidth > label.clientWidth + 1 && !one.closest('.items'), below: y + height > innerHeight + 0.5 };
  }));
}

function check(list, where) {
  for (const [at, one] of list.entries()) {
    assert.ok(Math.min(one.width, one.height) >= one.least - 0.5, `${where}: “${one.says}” is ${one.width} by ${one.height}, not ${one.least}`);
    assert.ok(!one.below, `${where}: “${one.says}” is below the screen`);
    for (const other of list.slice(at + 1)) {
      const [dx, dy] = [Math.max(other.x - one.x - one.width, one.x - other.x - other.width), Math.max(other.y - one.y - one.height, one.y - other.y - other.height)];
      const gap = one.pair >= 0 && one.pair === other.pair ? 4 : 8;
      assert.ok(Math.max(dx, dy) >= gap - 0.5, `${where}: “${one.says}” and “${other.says}” are ${Math.max(dx, dy)} apart, not ${gap}`);
    }
  }
}

/** Labels and states that are not shown whole, or reach out of their tile. `anyway` are labels that need not fit. */
function cut(page, anyway = 'none') {
  return page.evaluate((skip) => [...document.querySelectorAll('#record .tile')].filter((tile) => tile.checkVisibility() && tile.closest('.drop') === null).flatMap((tile) => {
    const box = tile.getBoundingClientRect();
    const parts = [tile, ...tile.querySelectorAll('span')].filter((part) => part.checkVisibility() && getComputedStyle(part).position !== 'absolute' && !part.matches(skip));
    return parts.filter((part) => {
      const { left, right, top, bottom } = part.getBoundingClientRect();
      const over = getComputedStyle(part).display !== 'inline' && (part.scrollWidth > part.clientWidth + 1 || part.scrollHeight > part.clientHeight + 1);
      return over || left < box.left - 0.5 || right > box.right + 0.5 || top < box.top - 0.5 || bottom > box.bottom + 0.5;
    }).map((part) => `${tile.id} ${part.className} “${part.textContent}” in ${Math.round(box.width)} by ${Math.round(box.height)}`);
  }), anyway);
}

test('X1, X9: sizes, gaps and no scrolling for 3, 6 and 10 pairs, both ways, both hands, and with longer words', async () => {
  const { context, page } = await open();
  for (const [title, pairs] of [['stairwell', 3], ['reading', 6], ['extractor', 10]]) {
    const id = plan(demo, title);
    await openBay(page, demo.address, id);
    await tap(page, 'Start');
    for (const size of ['portrait', 'landscape']) {
      await page.setViewportSize(SCREENS[size]);
      assert.deepEqual(await cut(page), [], `${pairs} pairs, ${size}, nothing taken`);
    }
    // With everything taken the tiles say most.
    for (let item = await page.locator('.items .tile').count(); item >= 1; item -= 1) await tap(page, `#i${item}`);
    await tap(page, '#p1a');
    await saved(page);
    const places0 = {};
    for (const hand of ['left', 'right']) {
      await page.evaluate((to) => { document.body.dataset.hand = to; }, hand);
      for (const size of ['landscape', 'portrait']) {
        await page.setViewportSize(SCREENS[size]);
        const where = `${pairs} pairs, ${size}, ${hand} hand`;
        const list = await places(page);
        assert.equal(list.filter((one) => one.pair >= 0).length, pairs * 2);
        check(list, where);
        assert.deepEqual(await cut(page), [], where);
        const gutter = hand === 'left' ? Math.min(...list.map((one) => one.x)) : SCREENS[size].width - Math.max(...list.map((one) => one.x + one.width));
        assert.ok(gutter >= 36, `${where}: the holding hand has ${gutter} px`);
        places0[`${size} ${hand}`] = list.length;
      }
    }
    await page.evaluate(() => {
      // A short form keeps to its twelve characters a line in every language.
      for (const label of document.querySelectorAll('.tile .label:not(:has(.full)), .tile .full')) {
        const words = (label.textContent ?? '').replaceAll('\u00ad', '');
        label.textContent = `${words} ${'lenk aro mi '.repeat(5).slice(0, Math.ceil(words.length * 0.4) - 1)}`;
      }
    });
    for (const size of ['landscape', 'portrait']) {
      await page.setViewportSize(SCREENS[size]);
      check(await places(page), `${pairs} pairs, ${size}, words 40 % longer`);
      assert.deepEqual(await cut(page, LONGER_MAY_BE_CUT), [], `${pairs} pairs, ${size}, words 40 % longer`);
    }
    await page.setViewportSize(SCREENS.landscape);
  }
  await context.close();
});

test('no tile moves from Start to End', async () => {
  const { context, page } = await open();
  const id = plan(demo, 'stairwell');
  await openBay(page, demo.address, id);
  const where = () => page.evaluate(() => Object.fromEntries([...document.querySelectorAll('#record .tile[id]')].filter((one) => !one.closest('.drop') && !/start|end/.test(one.id))
    .map((one) => { const { x, y, width, height } = one.getBoundingClientRect(); return [one.id, [x, y, width, height].map(Math.round).join(' ')]; })));
  for (const size of ['landscape', 'portrait']) {
    await page.setViewportSize(SCREENS[size]);
    const first = await where();
    for (const name of size === 'landscape' ? flawless(true).slice(0, 20) : flawless(true).slice(20, -1)) {
      await tap(page, name);
      assert.deepEqual(await where(), first, `${size}, after ${name}`);
    }
  }
  await context.close();
});

test('X9: 320 px, 200 %, wide spacing and forced colours lose nothing; the last line never hides the focus', async () => {
  const { context, page } = await open();
  const id = plan(demo, 'reading');
  await openBay(page, demo.address, id);
  await tap(page, 'Start');
  await tap(page, '#i1');
  const words = (await page.locator('#record .tile .label').allTextContents()).sort();
  for (const [where, size] of [['320 px', { width: 320, height: 640 }], ['200 %', { width: 590, height: 410 }], ['phone', SCREENS.phone]]) {
    await page.setViewportSize(size);
    assert.deepEqual((await page.locator('#record .tile .label').allTextContents()).sort(), words, where);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    assert.ok(wide <= size.width, `${where}: ${wide} px wide`);
    await page.locator('#d4').focus();
    const [tile, line] = [await page.locator('#d4').boundingBox(), await page.locator('.lastline').boundingBox()];
    assert.ok(size.height < 500 || tile.y + tile.height <= line.y + 1, `${where}: the last line hides what has the focus`);
  }
  await page.setViewportSize(SCREENS.phone);
  await page.addStyleTag({ content: '* { letter-spacing: .12em !important; word-spacing: .16em !important; line-height: 1.5 !important; }' }).catch(() => undefined);
  await page.emulateMedia({ forcedColors: 'active' });
  await accessible(page, 'forced colours');
  assert.equal(await page.locator('#i1 .state').textContent(), 'in hand');
  await context.close();
});

test('the page weighs at most 60 kB all told, compressed', async (t) => {
  const context = await browser.newContext({ viewport: SCREENS.landscape, hasTouch: true, storageState: signedIn, serviceWorkers: 'block' });
  const page = await context.newPage();
  const id = plan(demo, 'extractor');
  await openBay(page, demo.address, id);
  const fresh = await context.newPage();
  const parts = [];
  fresh.on('response', (response) => parts.push(response));
  await fresh.goto(page.url());
  await ready(fresh);
  let bytes = 0;
  for (const response of parts) bytes += gzipSync(await response.body()).length;
  t.diagnostic(`${parts.length} requests, ${(bytes / 1000).toFixed(1)} kB compressed: ${await Promise.all(parts.map(async (one) => `${one.url().split('/').pop()} ${gzipSync(await one.body()).length}`))}`);
  assert.ok(bytes <= 60_000, `${bytes} bytes`);
  assert.ok(parts.every((one) => one.url().startsWith(demo.address)));
  await context.close();
});

test('X3: the marking page is accessible in every state', async () => {
  const { context, page } = await open();
  const id = plan(demo, 'stairwell');
  await openBay(page, demo.address, id);
  await accessible(page, 'before the start');
  for (const name of ['Start', /^Padlock 7/, 'E then N']) await tap(page, name);
  await saved(page);
  await accessible(page, 'running');
  for (const menu of ['#more', '#history', '#sums']) {
    await page.locator(`${menu} > summary`).tap();
    await accessible(page, `${menu} open`);
    await page.locator(`${menu} > summary`).tap();
  }
  await page.locator('#sync-says').tap();
  await accessible(page, 'this tablet');
  await page.locator('#tablet-close').tap();
  await tap(page, 'End');
  await accessible(page, 'after the end');
  await context.close();
});
