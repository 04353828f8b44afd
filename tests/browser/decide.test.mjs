// Deciding and the result sheet in a real browser: three sizes of screen, and two sizes of paper.
import assert from 'node:assert/strict';
import { execFile } from 'node:child_process';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test as plain } from 'node:test';
import { promisify } from 'node:util';
import { accessible, fits } from './axe.mjs';
import { SCREENS, signIn, startBrowser, startDemo } from './demo.mjs';

/** A test that hangs is a test that fails. */
const test = (name, body) => plain(name, { timeout: 120_000 }, body);
const run = promisify(execFile);

let demo;
let browser;
let folder;

before(async () => {
  demo = await startDemo();
  browser = await startBrowser();
  folder = await mkdtemp(join(tmpdir(), 'bw-paper-'));
});

after(async () => {
  await browser?.close();
  await demo?.stop();
  if (folder) await rm(folder, { recursive: true, force: true });
});

/** A page of somebody who is signed in. */
async function open(name, viewport = SCREENS.landscape) {
  const context = await browser.newContext({ viewport, hasTouch: true });
  const page = await context.newPage();
  page.setDefaultTimeout(10_000);
  await signIn(page, demo, name);
  return { context, page };
}

/** Nothing is wider than the screen, and whatever can be tapped is large enough. */
async function roomy(page, where) {
  await fits(page, where);
  const small = await page.evaluate(() => [...document.querySelectorAll('main button, main input:not([type=hidden]):not(.unseen), main summary')]
    .map((one) => [one.textContent?.trim() ?? '', one.getBoundingClientRect()])
    .filter(([, box]) => box.width > 0 && Math.min(box.width, box.height) < 44).map(([says]) => says));
  assert.deepEqual(small, [], `${where}: smaller than 44 px`);
}

/** The words of a file, without spaces, and how many pages it has. */
async function read(bytes, name) {
  const file = join(folder, name);
  await writeFile(file, bytes);
  const { stdout: text } = await run('pdftotext', ['-raw', file, '-'], { maxBuffer: 16e6 });
  const { stdout: about } = await run('pdfinfo', [file]);
  return { text: text.replace(/\s/g, ''), pages: Number(/Pages:\s+(\d+)/.exec(about)?.[1]), about };
}

test('the decide page in three sizes: groups, words, overruling, and what a verifier then sees', async () => {
  const { context, page } = await open('ines');
  await page.getByRole('link', { name: 'Go on marking' }).first().click();
  await page.waitForURL(/\/marking$/);
  const tap = async (name) => {
    const count = Number(await page.locator('#record').getAttribute('data-count'));
    await page.getByRole('button', { name }).first().tap();
    await page.waitForFunction((before) => Number(document.getElementById('record')?.dataset.count) > before, count);
  };
  await tap(/Step\s*in/);
  await tap(/^Note/);
  await tap('End');
  await page.getByRole('link', { name: 'Decide' }).click();
  await page.waitForURL(/\/decide$/);
  for (const [size, viewport] of Object.entries(SCREENS)) {
    await page.setViewportSize(viewport);
    await accessible(page, `decide, ${size}`);
    await roomy(page, `decide, ${size}`);
  }
  // Everything folded away is as sound as what is not.
  await page.evaluate(() => document.querySelectorAll('details').forEach((one) => { one.open = true; }));
  for (const [size, viewport] of Object.entries(SCREENS)) {
    await page.setViewportSize(viewport);
    await accessible(page, `decide, opened, ${size}`);
    await roomy(page, `decide, opened, ${size}`);
  }
  assert.ok(await page.getByText('The rule:').count() > 15);

  const words = page.locator('#words form');
  assert.equal(await words.count(), 2, 'stepping in and a note want words');
  for (const says of ['Hand went towards the busbar', 'Spoke to the door']) {
    await words.first().getByRole('textbox').fill(says);
    await words.first().getByRole('button').click();
    await page.locator('#words').getByText(says).waitFor();
  }
  assert.equal(await words.count(), 0);

  // Overruling without a reason changes nothing, and the page says so beside the field.
  const confirm = page.locator('article', { has: page.getByRole('button', { name: 'Overrule: met' }) });
  await confirm.first().getByRole('button', { name: 'Overrule: met' }).click();
  await page.getByRole('alert').waitFor();
  await accessible(page, 'decide, refused');
  const refused = page.locator('article', { has: page.getByRole('alert') });
  await refused.getByRole('textbox').fill('I stood beside them and saw it');
  await refused.getByRole('button', { name: 'Overrule: met' }).click();
  await page.waitForLoadState();
  const needed = page.locator('article', { hasText: 'needs you' });
  for (let left = await needed.count(); left > 0; left -= 1) {
    const card = needed.first();
    const reason = card.getByRole('textbox');
    if (await reason.count()) await reason.fill('as I saw it');
    await card.getByRole('button', { name: /^(Confirm: not met|\W*Met)$/ }).click();
    await page.waitForLoadState();
    assert.equal(await needed.count(), left - 1);
  }
  await page.getByLabel(/^Password of/).fill(demo.signIns.ines);
  await page.getByRole('button', { name: 'Sign the result' }).click();
  await page.getByRole('heading', { name: /^Signed/ }).waitFor();
  await page.getByRole('link', { name: 'Go to the result sheet' }).click();
  const sheet = page.url();
  for (const [size, viewport] of Object.entries(SCREENS)) {
    await page.setViewportSize(viewport);
    await accessible(page, `sheet, ${size}`);
    await roomy(page, `sheet, ${size}`);
  }
  assert.match(await page.locator('main').textContent() ?? '', /I stood beside them and saw it[\s\S]*Hand went towards the busbar/);
  assert.equal(await page.getByText('to be sampled').count(), 0, 'the assessor is not told');
  await context.close();

  const verifier = await open('bram');
  await verifier.page.goto(sheet);
  await verifier.page.getByText('to be sampled').first().waitFor();
  await verifier.page.goto(`${demo.address}/sessions/all`);
  await verifier.page.getByText('to be sampled').first().waitFor();
  await accessible(verifier.page, 'sessions with one to be sampled');
  await verifier.context.close();
});

test('the sheet prints on A4 and on Letter: the outcome on one page, the seal on each, nothing cut', async () => {
  const { context, page } = await open('ines');
  await page.getByRole('link', { name: /Zażółć/ }).first().click();
  await page.waitForURL(/\/sheet$/);
  const sheet = page.url();
  const says = await page.locator('main').evaluate((main) => {
    const shown = (one) => one.parentElement?.closest('details, svg, .no-print, .sealed') === null;
    const walk = document.createTreeWalker(main, NodeFilter.SHOW_TEXT);
    const found = [];
    for (let node = walk.nextNode(); node; node = walk.nextNode()) if (shown(node)) found.push(node.textContent.replace(/\s/g, ''));
    return found.filter((text) => text.length > 1);
  });
  assert.ok(says.length > 100, `${says.length} pieces of text`);
  const code = (await page.locator('.evidence-code .code').textContent() ?? '').replace(/\s/g, '');
  assert.equal(code.length, 64);
  for (const format of ['A4', 'Letter']) {
    const printed = await read(await page.pdf({ format }), `print-${format}.pdf`);
    for (const text of says) assert.ok(printed.text.includes(text), `${format}: “${text}” is not in print`);
    assert.ok(printed.pages <= 3, `${format}: ${printed.pages} pages`);
    assert.equal(printed.text.split(code).length - 1, printed.pages + 1, `${format}: the code stands on each page, and once more`);
    assert.ok(printed.text.includes(`page1of${printed.pages}`), `${format}: pages have numbers`);
    const first = await run('pdftotext', ['-l', '1', join(folder, `print-${format}.pdf`), '-']);
    assert.ok(/Evidence code/.test(first.stdout) && !/Timeline/.test(first.stdout), `${format}: the outcome stands alone`);

    const answer = await context.request.get(`${sheet}.pdf?paper=${format.toLowerCase()}`);
    const made = await read(await answer.body(), `made-${format}.pdf`);
    // A sentence may go on on the next page, after the foot.
    const whole = made.text.replaceAll(/\f?Evidencecode[0-9a-f]{64}·page\dof\d/g, '');
    for (const text of says) assert.ok(whole.includes(text.replace(/\.$/, '')), `${format}: “${text}” is not in the PDF`);
    assert.ok(made.pages <= 3, `${format}: ${made.pages} pages`);
    assert.match(made.about, new RegExp(`\\(${format}\\)`, 'i'));
  }
  await context.close();
});
