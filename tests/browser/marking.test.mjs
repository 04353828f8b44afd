// The marking page beside the bay: taps, corrections, and that the page says the same as the service.
import assert from 'node:assert/strict';
import { after, before } from 'node:test';
import { flawless, logOf, openBay, plan, saved, tap, test } from './bench.mjs';
import { startPages } from './pages.mjs';

let demo;
let open;
let stop;

before(async () => {
  ({ demo, open, stop } = await startPages());
});

after(() => stop?.());

/** All that the record says, tile by tile. */
function record(page) {
  return page.evaluate(() => {
    const plain = (text) => (text ?? '').replaceAll('\u00ad', '').replaceAll(/\s+/g, ' ').trim();
    const tiles = [...document.querySelectorAll('#record .tile[name=acts], #record .chips > .chip[name=acts], #record .fixed > .chip[name=acts]')];
    const says = tiles.filter((one) => one.closest('.drop') === null && one.id !== 'bring-back').map((one) =>
      [one.id, plain(one.querySelector('.label')?.textContent ?? one.textContent), plain(one.querySelector('.state')?.textContent),
        JSON.stringify(JSON.parse(one.value || '[]')), one.disabled, one.hasAttribute('data-marked'), one.dataset.atMs ?? ''].join(' | '));
    const menus = [...document.querySelectorAll('.chips > details > summary')].map((one) => plain(one.textContent)).filter((one) => one !== 'Words…');
    const table = [...document.querySelectorAll('.rounds :is(th, td)')].map((one) => plain(one.textContent)).join(' ');
    return { tiles: says, menus, table, last: plain(document.querySelector('.last')?.textContent) };
  });
}

/** Acts in no particular order of their fields. */
const inOrder = (said) => ({ ...said, tiles: said.tiles.map((line) => line.replace(/\{[^{}]*\}/g, (act) => JSON.stringify(Object.entries(JSON.parse(act)).sort()))) });

/** The page that the service makes by itself says the same as the one that went on without it. */
async function sameAsService(page, where) {
  await saved(page);
  const plain = await page.context().browser().newContext({ javaScriptEnabled: false, storageState: await page.context().storageState() });
  const other = await plain.newPage();
  await other.goto(page.url());
  const [ours, theirs] = [inOrder(await record(page)), inOrder(await record(other))];
  await plain.close();
  assert.deepEqual(ours, theirs, where);
}

for (const [closed, count] of [[false, 35], [true, 41]]) {
  test(`X2: ${count} taps by touch record a flawless isolation, and nothing is owed but the judgement by eye`, async () => {
    const { context, page, complaints } = await open();
    const id = plan(demo, 'stairwell');
    await openBay(page, demo.address, id);
    const script = flawless(closed);
    assert.equal(script.length, count);
    for (const name of script) await tap(page, name);
    await saved(page);
    const log = await logOf(page, demo.address, id);
    assert.equal(log.length, closed ? 43 : 37);
    assert.deepEqual(log.map((one) => one.seq), log.map((_, at) => at + 1));
    await page.getByRole('link', { name: 'Decide' }).tap();
    await page.waitForURL(/\/decide$/);
    const needs = await page.locator('article', { hasText: 'needs you' }).allTextContents();
    assert.equal(needs.length, 1, needs.join('\n'));
    assert.match(needs[0], /by eye/i);
    assert.equal(await page.getByText('not met', { exact: true }).count(), 0);
    assert.deepEqual(complaints, []);
    await context.close();
  });
}

test('eyes off the bay: the keystroke-level model over the scripts', (t) => {
  // Gaze to the tablet and back 0.36 s each (Holleis 2007), reach and touch 0.50 s (Fitts at 6.95 bit/s, MacKenzie 2015),
  // feedback 0.10 s, choosing 1.35 s (Card, Moran and Newell 1980), which is charged but before the 2nd and 3rd test of a round.
  const [gaze, reach, feedback, choosing] = [0.36, 0.5, 0.1, 1.35];
  const record = 2 * gaze + reach + feedback;
  for (const [closed, most] of [[false, 47], [true, 55]]) {
    const script = flawless(closed);
    const tests = script.filter((name) => typeof name === 'string' && name.includes(' then ')).length;
    const eyesOff = script.length * record;
    const withChoosing = eyesOff + (script.length - tests * 2 / 3) * choosing;
    const stage = script.length - script.indexOf('Lamp out') - 1 - 2 + 1;
    const share = stage * record / (stage * 90 / 17);
    t.diagnostic(`${script.length} taps: ${eyesOff.toFixed(0)} s eyes off, ${withChoosing.toFixed(0)} s with choosing; testing stage ${stage} acts, ${(stage * record).toFixed(0)} s, ${(share * 100).toFixed(0)} %`);
    assert.ok(eyesOff < most && share <= 0.3);
  }
});

test('the page that goes on by itself says the same as the page of the service', async () => {
  const { context, page } = await open();
  const id = plan(demo, 'stairwell');
  await openBay(page, demo.address, id);
  const script = flawless(true);
  for (const [at, name] of script.entries()) {
    await tap(page, name);
    if ([0, 4, 9, 13, 14, 18, 22, 30, 40].includes(at)) await sameAsService(page, `after ${at + 1} taps, ${name}`);
    if (at === 18) {
      for (const chip of ['Reads live', 'Not seen', /^Q0 /, 'Touches', 'Note', /^Work at height/, 'Step in', 'Live part', 'Proves', 'Known live']) {
        await tap(page, chip);
        await sameAsService(page, String(chip));
      }
    }
  }
  await tap(page, 'Back to marking');
  await sameAsService(page, 'back to marking');
  await context.close();
});

test('chips correct, Strike takes back, and for ten seconds the same place brings back', async () => {
  const { context, page } = await open();
  const id = plan(demo, 'stairwell');
  await openBay(page, demo.address, id);
  await tap(page, 'Start');
  await tap(page, 'E then SL');
  await tap(page, 'Reads live');
  const box = await page.locator('#strike').boundingBox();
  await tap(page, 'Strike');
  const back = await page.locator('#bring-back').boundingBox();
  assert.deepEqual([back.x, back.y, back.width], [box.x, box.y, box.width]);
  await page.waitForTimeout(350);
  await tap(page, 'Bring back');
  await tap(page, /^Q1 /);
  await saved(page);
  const log = await logOf(page, demo.address, id);
  assert.deepEqual(log.map((one) => one.act.kind), ['started', 'tested', 'struck', 'tested', 'struck', 'struck', 'switched']);
  assert.equal(log[3].at_ms, log[1].at_ms, 'a correction takes the time of what it corrects');
  assert.deepEqual([log[4].act.reason, log[5].act.observation], ['mis_tap', log[4].id]);
  await tap(page, 'Strike');
  await page.locator('#bring-back').waitFor();
  await page.locator('#strike').waitFor({ timeout: 12_000 });
  await context.close();
});

test('a note is stamped at once and gets its words later', async () => {
  const { context, page } = await open();
  const id = plan(demo, 'stairwell');
  await openBay(page, demo.address, id);
  await tap(page, 'Start');
  await tap(page, 'Note');
  await tap(page, /^Q1 /);
  await page.locator('#history > summary').tap();
  await page.getByText('Words…').tap();
  await page.getByRole('textbox').fill('Said “thank you” & <left> the keys');
  await page.getByRole('button', { name: 'Put into words' }).tap();
  await saved(page);
  const log = await logOf(page, demo.address, id);
  const note = log.at(-1);
  assert.deepEqual([note.act.kind, note.act.text, note.at_ms], ['remark', 'Said “thank you” & <left> the keys', log[1].at_ms]);
  await context.close();
});
