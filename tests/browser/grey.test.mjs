// X5, WCAG 1.4.1: without colour every state is still told apart, by its words and by its shape.
//
// Two things are measured. First, each state's words and shape are what the golden list below says, so that none lives by
// its colour alone. Second, pictures are taken while Chromium shows the page without any colour (achromatopsia), and for
// every two states of one kind the share of points that differ by at least 96 of 255 grey values must be over the floor: a
// difference of hue alone would leave it at nothing, as the control shows.
import assert from 'node:assert/strict';
import { after, before } from 'node:test';
import { openBay, plan, saved, says, tap, test } from './bench.mjs';
import { SCREENS, signIn } from './demo.mjs';
import { startEyes } from './grey.mjs';
import { startRig } from './offline.mjs';

/** Percent of a picture's points. One mark in a cell of a table is between one and three. */
const FLOOR = 1;

let demo;
let browser;
let proxy;
let begin;
let stop;
let eyes;

before(async () => {
  ({ demo, browser, proxy, begin, stop } = await startRig());
  eyes = await startEyes(browser);
});

after(() => stop?.());

/** What stands on an element: its words, the shapes among them, and what its border looks like. */
const looks = (locator) => locator.evaluate((one) => {
  const style = getComputedStyle(one);
  const inset = style.boxShadow.includes('inset') ? ' thick' : '';
  const border = one.matches('button, a.tile') ? ` [${style.borderTopStyle}${inset}]` : '';
  const struck = one.querySelector('s') === null ? '' : ' [crossed through]';
  // Where a short form stands, the full label is there only for those who hear the page.
  const full = one.querySelector('.full');
  const unseen = full !== null && getComputedStyle(full).clipPath !== 'none' ? full.innerText : '';
  return one.innerText.replace(unseen, '').replaceAll('\u00ad', '').replaceAll(/\s+/g, ' ').trim() + border + struck;
});

/** States of one kind as they come up, and the pictures of them. */
class Kind {
  states = [];

  /** @param {string} name */
  constructor(name) {
    this.name = name;
  }

  async see(state, locator) {
    this.states.push({ state, says: await looks(locator), picture: await eyes.look(locator) });
  }

  /** Holds the words and shapes to the golden list, and every two pictures apart. Answers the least difference. */
  async check(t, golden) {
    assert.deepEqual(Object.fromEntries(this.states.map(({ state, says: words }) => [state, words])), golden, this.name);
    let least = Infinity;
    for (const [at, one] of this.states.entries()) {
      for (const other of this.states.slice(at + 1)) {
        const differs = await eyes.differs(one.picture, other.picture);
        assert.ok(differs >= FLOOR, `${this.name}: “${one.state}” and “${other.state}” differ by ${differs.toFixed(2)} % without colour`);
        least = Math.min(least, differs);
      }
    }
    t.diagnostic(`${this.name}: ${this.states.length} states, least difference ${least.toFixed(1)} %`);
  }
}

const cell = (page, row, column) => page.locator('.rounds tbody tr').nth(row).locator('td').nth(column);

test('control: what differs by hue alone does not differ here, and what differs by a letter does', async () => {
  const page = await (await browser.newContext()).newPage();
  await eyes.withoutColour(page);
  // The same luminance in red and green (0.2126 R and 0.7152 G of linear light, IEC 61966-2-1).
  const paint = async (colour, text) => {
    await page.setContent(`<p style="background:${colour};width:120px;height:80px;font:20px sans-serif">${text}</p>`);
    return eyes.look(page.locator('p'));
  };
  const [red, green, letter] = [await paint('rgb(230,0,0)', 'ON'), await paint('rgb(0,134,0)', 'ON'), await paint('rgb(230,0,0)', 'OFF')];
  assert.equal(await eyes.differs(red, green), 0);
  assert.ok(await eyes.differs(red, red) === 0 && await eyes.differs(await paint('#fff', 'ON'), await paint('#fff', 'OFF')) >= FLOOR);
  assert.notEqual(letter, red);
  await page.context().close();
});

test('X5: the tiles of the marking page', async (t) => {
  const { context, page } = await begin();
  await eyes.withoutColour(page);
  const [item, device, wall, point, lamp, proves] = ['item', 'device', 'wall switch', 'point', 'lamp', 'act'].map((name) => new Kind(name));
  const at = (id) => page.locator(id);
  await item.see('on the table', at('#i1'));
  await proves.see('needs something', at('#a4'));
  await tap(page, '#i1');
  await item.see('in hand', at('#i1'));
  await proves.see('ready', at('#a4'));
  await tap(page, '#i2');
  await item.see('taken', at('#i1'));
  await device.see('on', at('#d3'));
  await tap(page, '#d3');
  await device.see('off', at('#d3'));
  await wall.see('as found', at('#s1'));
  await tap(page, '#s1');
  await wall.see('thrown', at('#s1'));
  await point.see('closed', at('#a10'));
  await tap(page, '#a10');
  await point.see('open', at('#a10'));
  await lamp.see('in', at('#a11'));
  await tap(page, '#a11');
  await lamp.see('out', at('#a11'));
  await tap(page, '#a4');
  await page.locator('#a4 .state').waitFor();
  await page.locator('#a4 .state').evaluate((one) => { one.textContent = '00:07'; });
  await proves.see('done', at('#a4'));
  await item.check(t, {
    'on the table': 'Indicator yellow [solid]',
    'in hand': 'Indicator yellow in hand [solid thick]',
    taken: 'Indicator yellow taken [solid thick]',
  });
  await device.check(t, { on: 'Q2 Stairwell lights ON [solid]', off: 'Q2 Stairwell lights OFF [solid thick]' });
  await wall.check(t, { 'as found': 'S1 Foot of the stairs as found [solid]', thrown: 'S1 Foot of the stairs thrown [solid thick]' });
  await point.check(t, { closed: 'Opens point closed [solid]', open: 'Closes point open [solid thick]' });
  await lamp.check(t, { in: 'Lamp out in [solid]', out: 'Lamp in out [solid thick]' });
  await proves.check(t, { 'needs something': 'Proves take an indicator [dashed]', ready: 'Proves [solid]', done: 'Proves 00:07 [solid]' });
  await context.close();
});

test('X5: the table of rounds, Owed and Proposed, the way on, and what was struck', async (t) => {
  const { context, page } = await begin();
  await eyes.withoutColour(page);
  const [cells, sums, edge, row] = ['cell of the table', 'Owed and Proposed', 'way on', 'row of the list'].map((name) => new Kind(name));
  const see = (state, place) => cells.see(state, place);
  await sums.see('nothing proposed', page.locator('#sums > summary'));
  await edge.see('running', page.locator('#end'));
  await see('not tested', cell(page, 0, 1));
  await tap(page, 'E then N');
  await see('dead', cell(page, 0, 0));
  await tap(page, 'N then E');
  await see('other order', cell(page, 0, 0));
  await tap(page, 'Reads live');
  await see('live', cell(page, 0, 0));
  await tap(page, 'Not seen');
  await see('not seen', cell(page, 0, 0));
  await tap(page, '#d1');
  await saved(page);
  await page.getByText('◆').waitFor();
  await sums.see('some proposed', page.locator('#sums > summary'));
  await page.locator('#history > summary').tap();
  const first = page.locator('.history li', { hasText: 'Switched off' }).locator('span').first();
  await row.see('stands', first);
  await page.locator('.history li', { hasText: 'Switched off' }).getByRole('button', { name: 'Strike' }).tap();
  await page.locator('#history > summary').tap();
  await row.see('struck', page.locator('.history li', { hasText: 'Switched off' }).locator('span').first());
  await page.locator('#history > summary').tap();
  await tap(page, 'End');
  await edge.see('ended', page.locator('.topline a.go'));
  const fresh = plan(demo, 'stairwell');
  await saved(page);
  await openBay(page, proxy.address, fresh);
  await edge.see('before', page.locator('#start'));
  await cells.check(t, { 'not tested': '· not tested', dead: '✓ dead', 'other order': '▲ other order', live: '● live', 'not seen': '? not seen' });
  await sums.check(t, { 'nothing proposed': 'Owed 19 Proposed 0', 'some proposed': 'Owed 9 ◆ Proposed 5' });
  await row.check(t, { stands: 'Switched off Q0 (Main switch)', struck: 'Switched off Q0 (Main switch) struck [crossed through]' });
  await edge.check(t, { running: 'End [solid]', ended: 'Decide [solid]', before: 'Start [solid]' });
  await context.close();
});

test('X5: what the line about saving says', async (t) => {
  const { context, page } = await begin();
  await eyes.withoutColour(page);
  const line = new Kind('saving');
  const place = page.locator('#sync-says');
  await line.see('all saved', place);
  proxy.rule((request) => (request.url.endsWith('/entries') ? { slow: 3_000 } : null));
  await tap(page, 'E then N');
  await says(page, /1 saved on tablet/);
  await line.see('saved on tablet', place);
  proxy.rule(null);
  await saved(page);
  proxy.cut();
  await tap(page, 'N then E');
  await says(page, /offline, 1 saved on tablet/);
  await line.see('offline', place);
  proxy.pass();
  proxy.rule((request) => (request.url.endsWith('/entries') ? { status: 401 } : null));
  await page.evaluate(() => dispatchEvent(new Event('online')));
  await says(page, /signed out/);
  await line.see('signed out', place);
  proxy.rule((request) => (request.url.endsWith('/entries') ? { status: 413 } : null));
  await page.evaluate(() => dispatchEvent(new Event('online')));
  await says(page, /refused, tap/);
  await line.see('refused', place);
  await line.check(t, {
    'all saved': '● all saved [solid]',
    'saved on tablet': '◐ 1 saved on tablet [solid]',
    offline: '○ offline, 1 saved on tablet [solid]',
    'signed out': '▲ signed out, 1 saved on tablet [solid]',
    refused: '▲ 1 refused, tap [solid]',
  });
  await context.close();
});

test('X5: the live view and the decide page', async (t) => {
  const { context, page, id } = await begin();
  const other = await (await browser.newContext({ viewport: SCREENS.landscape, javaScriptEnabled: false })).newPage();
  await signIn(other, demo, 'bram');
  await eyes.withoutColour(other);
  const [phase, cells, signs] = ['state of the session', 'cell of the live table', 'sign of a finding'].map((name) => new Kind(name));
  const still = (one) => other.locator(one).evaluate((place) => { for (const time of place.querySelectorAll('bdi')) time.textContent = '00:00'; });
  const watch = async (state) => {
    await other.goto(`${demo.address}/sessions/${id}/live`);
    await still('.big');
    await phase.see(state, other.locator('.big').first());
  };
  await watch('running');
  await tap(page, 'E then N');
  await tap(page, 'SL then E');
  await tap(page, 'N then SL');
  await tap(page, 'Reads live');
  await page.locator('#more > summary').tap();
  await tap(page, 'Stop the clock: alarm');
  await saved(page);
  await watch('paused');
  for (const [state, row, column] of [['dead', 0, 0], ['other order', 1, 0], ['live', 2, 0], ['not tested', 0, 1]]) {
    await cells.see(state, cell(other, row, column));
  }
  await page.locator('#more > summary').tap();
  await tap(page, 'Start the clock again');
  await tap(page, 'End');
  await saved(page);
  await watch('ended');
  await page.goto(`${proxy.address}/sessions/${id}/decide`);
  await eyes.withoutColour(page);
  for (const fold of await page.locator('.fold > summary').all()) await fold.click();
  const seen = new Set();
  for (const sign of await page.locator('.finding .sign').all()) {
    const words = await looks(sign);
    if (seen.has(words)) continue;
    seen.add(words);
    await signs.see(words.replace(/^\S+ /, ''), sign);
  }
  await phase.check(t, { running: 'Running · 00:00 of 31:15', paused: 'Running · 00:00 of 31:15 paused', ended: 'Ended · 00:00 of 31:15' });
  await cells.check(t, { dead: '✓ dead', 'other order': '▲ other order', live: '● live', 'not tested': '· not tested' });
  await signs.check(t, { met: '✓ met', 'not met': '✕ not met', 'not seen': '? not seen' });
  await other.context().close();
  await context.close();
});
