// A checklist in a real browser: from the starter to a published version, by keyboard, and what it would change.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { after, before, test as plain } from 'node:test';
import { accessible, fits, reachable } from './axe.mjs';
import { SCREENS, openPage, signIn, startBrowser, startDemo } from './demo.mjs';

/** A test that hangs is a test that fails. */
const test = (name, body) => plain(name, { timeout: 180_000 }, body);

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

/** A page that reports what the browser complains about. */
async function open(viewport, more = {}) {
  const { context, page, complaints } = await openPage(browser, viewport, more);
  page.setDefaultTimeout(15_000);
  return { context, page, complaints };
}

/** No violation of WCAG 2.2 A and AA that axe-core can find, nothing wider than the screen, no target too small. */
async function sound(page, where) {
  await accessible(page, where);
  await fits(page, where);
  await reachable(page, 'main :is(button, summary, select, input:not([type="hidden"]):not([type="radio"]):not([type="checkbox"]), .option, .button, .tabs a)', where);
}

const active = (page) => page.evaluate(() => document.activeElement?.textContent?.replace(/\s+/g, ' ').trim() ?? '');

/** The criteria of a stage, as the page shows them. */
const says = (page, stage) => page.locator('.stage').nth(stage).locator('.says').allTextContents();

test('a checklist is made from the starter, reordered by keyboard, previewed, published and asked what it would change', async () => {
  const { context, page, complaints } = await open(SCREENS.landscape, { javaScriptEnabled: true });
  await signIn(page, demo, 'ines');
  await page.getByRole('link', { name: 'Checklists', exact: true }).click();
  await sound(page, 'the list');
  await page.getByLabel('the starter checklist of a scheme').check();
  await page.getByLabel('Title').fill('Our own');
  await page.getByRole('button', { name: 'Make the checklist' }).click();
  await page.getByRole('heading', { level: 1, name: 'Our own' }).waitFor();
  await sound(page, 'the draft');

  // By keyboard alone: the button keeps the focus, so that it can be pressed again.
  const [first, second, third] = await says(page, 0);
  await page.getByRole('button', { name: `Move ${first} down` }).focus();
  for (const expected of [[second, first, third], [second, third, first]]) {
    await Promise.all([page.waitForNavigation(), page.keyboard.press('Enter')]);
    assert.deepEqual((await says(page, 0)).slice(0, 3), expected);
    assert.match(await active(page), new RegExp(`Move ${first} down`));
  }
  await page.keyboard.press('Shift+Tab');
  await Promise.all([page.waitForNavigation(), page.keyboard.press('Enter')]);
  assert.deepEqual((await says(page, 0)).slice(0, 3), [second, first, third]);

  // Weight and consequence in place; a fault stays beside its field with what was typed.
  const row = page.locator('.rows > li').first();
  await row.locator('summary').press('Enter');
  await row.getByLabel('Weight').fill('0');
  await row.getByRole('button', { name: /^Save/ }).click();
  assert.match(await row.locator('.fault').textContent(), /1 to 1000/);
  assert.equal(await row.getByLabel('Weight').inputValue(), '0');
  await sound(page, 'a fault in the draft');
  await row.getByLabel('Weight').fill('4');
  await row.getByRole('button', { name: /^Save/ }).click();
  assert.match(await row.locator('summary').textContent(), /weight 4/);
  await sound(page, 'an opened criterion');

  // Not valid, said where it is, and refused at publishing.
  await page.getByLabel('New stage').fill('Afterwards');
  await page.getByRole('button', { name: 'Add the stage' }).click();
  await page.getByText('This stage is empty').waitFor();
  await sound(page, 'a draft that is not valid');
  await page.getByRole('link', { name: 'Publish' }).click();
  await page.getByRole('heading', { name: 'It cannot be published yet' }).waitFor();
  await sound(page, 'publishing refused');
  await page.getByRole('link', { name: 'Back to the draft' }).click();
  await page.getByRole('link', { name: 'Add criteria to Afterwards' }).click();
  await sound(page, 'picking');
  await page.getByRole('checkbox').first().check();
  await page.getByRole('button', { name: 'Add what is ticked' }).click();
  await page.getByText('It can be published.').waitFor();

  await page.getByRole('link', { name: 'Preview' }).click();
  assert.match(await page.locator('main').textContent(), /judged by eye and nobody has/);
  await sound(page, 'preview of an example');
  await page.getByLabel('Session', { exact: true }).selectOption({ label: 'Extractor fan: knocks another device and does not prove the indicator again' });
  await page.getByRole('button', { name: 'Mark it' }).click();
  await page.getByRole('heading', { name: 'What this task cannot feed' }).waitFor();
  await sound(page, 'preview of another');

  await page.getByRole('link', { name: 'Publish' }).click();
  await sound(page, 'publishing');
  await page.getByRole('button', { name: 'Publish' }).click();
  await page.getByText('Published. This version never changes').waitFor();
  await sound(page, 'published');
  const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name: 'Take version 1 away as a file' }).click()]);
  const bytes = await readFile(await file.path());

  await page.getByRole('link', { name: 'What would change' }).click();
  await sound(page, 'what would change, asked');
  await page.getByLabel('Sessions of').selectOption({ label: 'Isolate the stairwell lights so that a lamp holder can be changed' });
  await page.getByLabel('What is by eye').selectOption('met');
  await page.getByRole('button', { name: 'Mark them anew' }).click();
  await page.getByRole('heading', { name: /of 1 would come out otherwise/ }).waitFor();
  await sound(page, 'what would change');

  // The file comes back as it went.
  await page.goto(`${demo.address}/checklists/import`);
  await sound(page, 'bringing in');
  await page.getByLabel('Checklist file').setInputFiles({ name: 'broken.toml', mimeType: 'application/toml', buffer: Buffer.from('title = 1') });
  await page.getByRole('button', { name: 'Bring it in' }).click();
  await page.getByText('Line 1').first().waitFor();
  await sound(page, 'a broken file');
  await page.getByLabel('Checklist file').setInputFiles({ name: 'ours.toml', mimeType: 'application/toml', buffer: bytes });
  await page.getByRole('button', { name: 'Bring it in' }).click();
  await page.getByText('kept as a draft').waitFor();
  assert.deepEqual(complaints.filter((line) => !/422/.test(line)), []);
  await context.close();
});

test('a criterion with a rule of its own is written without script', async () => {
  const { context, page } = await open(SCREENS.portrait, { javaScriptEnabled: false });
  await signIn(page, demo, 'ines');
  await page.goto(`${demo.address}/criteria`);
  await page.getByRole('link', { name: 'Write a criterion' }).click();
  await page.getByLabel('What the candidate does').fill('Leaves the yard light alone');
  await page.getByRole('combobox', { name: 'Stage' }).fill('Manner');
  await page.locator('input[value="never"]').check();
  await page.getByRole('button', { name: 'Save or go on' }).click();
  await page.getByLabel('The act that must never be seen').selectOption({ label: 'Switched a device on the board' });
  await page.getByRole('button', { name: 'Save or go on' }).click();
  await page.getByLabel('Device').fill('Q3');
  await page.getByLabel('Position').selectOption('off');
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await page.getByText('What could be better').waitFor();
  await page.goto(`${demo.address}/criteria?q=yard`);
  await page.locator('summary', { hasText: 'Leaves the yard light alone' }).click();
  assert.match(await page.locator('.about-criterion').first().textContent(), /Switched a device on the board; device Q3; to off/);
  await context.close();
});

test('every page of criteria and checklists is accessible and no wider than the screen, at three sizes', async () => {
  for (const [size, viewport] of Object.entries(SCREENS)) {
    for (const who of ['odile', 'bram']) {
      const { context, page, complaints } = await open(viewport);
      await signIn(page, demo, who);
      await page.goto(`${demo.address}/checklists`);
      const lists = await page.locator('.list a[href^="/checklists/"]').evaluateAll((links) => links.map((one) => one.getAttribute('href')));
      // By title: the draft that the demo begins, then what its tasks were made with.
      assert.ok(lists.length >= 4);
      const published = await (await page.context().request.get(demo.address + lists[1])).text();
      const version = /href="(\/checklists\/[^"]+\/versions\/1)"/.exec(published)?.[1] ?? '';
      const pages = ['/checklists', '/criteria', lists[0], lists[1], version, `${lists[0]}/preview`, `${lists[1]}/what-would-change?task=all`,
        `${lists[1]}/differences?from=1&to=1`];
      if (who === 'odile') pages.push('/criteria/new', '/criteria/own/identify', `${lists[0]}/publish`, `${lists[0]}/pick?stage=0`, '/checklists/import');
      for (const path of pages) {
        const answer = await page.goto(demo.address + path);
        assert.equal(answer?.status(), 200, path);
        await sound(page, `${path}, ${size}, ${who}`);
      }
      assert.deepEqual(complaints, []);
      await context.close();
    }
  }
});
