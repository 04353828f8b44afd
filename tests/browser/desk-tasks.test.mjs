// A task in a real browser: built from nothing by keyboard, with what is wrong said beside it, and published.
import assert from 'node:assert/strict';
import { after, before, test as plain } from 'node:test';
import { accessible, fits, reachable } from './axe.mjs';
import { SCREENS, openPage, signIn, startBrowser, startDemo } from './demo.mjs';

/** A test that hangs is a test that fails. */
const test = (name, body) => plain(name, { timeout: 240_000 }, body);

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

/** An assessor, signed in, and what the browser complains about. */
async function open(viewport, more = {}) {
  const { context, page, complaints } = await openPage(browser, viewport, more, / 4(09|22) /);
  await signIn(page, demo, 'ines');
  return { context, page, complaints };
}

/** Accessible, nothing wider than the screen, no target under 44 px. */
async function good(page, where) {
  await accessible(page, where);
  await fits(page, where);
  await reachable(page, 'main :is(button, summary, select, textarea, input:not([type=hidden], [type=radio], [type=checkbox]), .option, .button, .tabs a)', where);
}

/** Types into a field without touching anything else. */
async function type(page, label, text) {
  const field = page.getByLabel(label, { exact: true }).last();
  await field.focus();
  await page.keyboard.press('ControlOrMeta+A');
  await page.keyboard.type(text);
}

/** Presses a button with the keyboard and waits for the page that follows. */
async function press(page, name) {
  await page.getByRole('button', { name }).last().focus();
  await Promise.all([page.waitForNavigation(), page.keyboard.press('Enter')]);
  // The field that the page puts under the keyboard has it with the first frame, which may come after the loading.
  await page.waitForFunction(() => document.querySelector('[autofocus]:not(:disabled)') === null || document.activeElement?.hasAttribute('autofocus'));
}

/** Ticks with the space bar. */
async function tick(page, group, name) {
  await page.getByRole('group', { name: group }).last().getByLabel(name, { exact: true }).focus();
  await page.keyboard.press('Space');
}

const focused = (page) => page.evaluate(() => document.activeElement?.id ?? '');

/** Board, circuit and point of a small lighting task, and what is isolated. */
async function bay(page) {
  await type(page, 'Name of the board', 'DB-P, porch');
  await press(page, 'Add a device');
  assert.equal(await focused(page), 'board.devices[0].label', 'what was added is under the keyboard');
  await page.keyboard.type('Main switch');
  await tick(page, 'Conductors it switches', 'L, line');
  await tick(page, 'Conductors it switches', 'N, neutral');
  await press(page, 'Add a device');
  await page.keyboard.type('Porch');
  await tick(page, 'Conductors it switches', 'L, line');
  await good(page, 'the board');
  await press(page, 'Save and go on');

  await press(page, 'Add a circuit');
  await page.keyboard.type('Porch light');
  await page.getByLabel('Wiring', { exact: true }).selectOption({ label: 'Switched light, feed at the switch' });
  await press(page, 'Add a switch');
  await page.keyboard.type('Hall');
  await page.getByLabel('Kind', { exact: true }).selectOption({ label: 'One-way' });
  await press(page, 'Add a point');
  await page.keyboard.type('Porch lamp holder');
  await page.getByLabel('Kind', { exact: true }).last().selectOption({ label: 'Lamp holder' });
  // The drawing and what is said keep up before anything is saved.
  await tick(page, 'Conductors that can be reached', 'L, line');
  await page.locator('[id="circuits[0].points[0].conductors-fault"]', { hasText: 'no permanent line' }).waitFor();
  assert.match(await page.locator('#standing').textContent(), /Not saved yet/);
  await good(page, 'a fault beside its field');
  await tick(page, 'Conductors that can be reached', 'L, line');
  for (const name of ['E, earth', 'N, neutral', 'SL, switched line']) await tick(page, 'Conductors that can be reached', name);
  await page.locator('.drawing svg').waitFor();
  await good(page, 'circuits with a drawing');

  // Going to another step by its tab loses nothing.
  await page.getByRole('link', { name: 'What to isolate' }).focus();
  await Promise.all([page.waitForNavigation(), page.keyboard.press('Enter')]);
  await page.getByLabel('Circuit', { exact: true }).selectOption({ label: 'Porch light' });
  await page.getByLabel('The device that isolates it').selectOption({ label: 'Q2 Porch' });
  await page.getByLabel('Point of work, where it is proved dead').selectOption({ label: 'Porch lamp holder, on Porch light' });
  await good(page, 'what to isolate');
  await press(page, 'Save and go on');
}

/** A checklist of the centre, from the starter, published. */
async function checklist(page, title) {
  await page.goto(`${demo.address}/checklists`);
  await page.getByLabel('the starter checklist of a scheme').check();
  await page.getByLabel('Title').fill(title);
  await page.getByRole('button', { name: 'Make the checklist' }).click();
  await page.getByRole('link', { name: 'Publish' }).click();
  await page.getByRole('button', { name: 'Publish' }).click();
  await page.getByText('Published. This version never changes').waitFor();
}

for (const [size, viewport] of Object.entries(SCREENS)) {
  test(`a task is built from nothing by keyboard, refused with the reason, put right and published: ${size}`, async () => {
    const { context, page, complaints } = await open(viewport);
    await checklist(page, `Porch ${size}`);
    await page.goto(`${demo.address}/tasks`);
    await good(page, 'the list');
    await press(page, 'Make the task');
    await page.locator('#title-fault').waitFor();
    await good(page, 'no title');
    await type(page, 'Title', `Isolate the porch light, ${size}`);
    await page.getByLabel('nothing', { exact: true }).check();
    await press(page, 'Make the task');
    await good(page, 'an empty draft');
    await bay(page);

    for (const [at, thing] of ['Two-pole indicator, shrouds left off', 'Proving unit', 'Clip for a one-pole breaker', 'Padlock', 'Notice: do not switch on'].entries()) {
      await press(page, new RegExp(`^${thing}`));
      // A padlock comes with its key.
      assert.equal(await focused(page), `table[${at > 3 ? at + 1 : at}].label`, thing);
    }
    await good(page, 'the table');
    await page.getByText('Bare tips of 14 mm, over the limit of 4 mm').waitFor();
    await press(page, 'Save and go on');
    await page.getByLabel('The neutral of the circuit was off its bar.').check();
    await good(page, 'at the start');
    await press(page, 'Save and go on');
    await page.getByLabel('Checklist', { exact: true }).selectOption({ label: `Porch ${size}, version 1` });
    await good(page, 'the checklist');
    await press(page, 'Save and go on');
    await type(page, 'Briefing', 'Isolate the porch light and prove it dead.');
    await type(page, 'Minutes allowed', '0');
    await page.locator('#minutes-fault').waitFor();
    await good(page, 'the briefing');
    await type(page, 'Minutes allowed', '20');
    await press(page, 'Save and go on');

    // What the checklist asks for and the table cannot give, with the criterion that asks for it.
    await page.getByRole('heading', { name: 'It cannot be published yet' }).waitFor();
    await good(page, 'refused');
    const told = await page.locator('[aria-labelledby=wanting]').textContent();
    assert.match(told, /No lock-off device on the table fits Q2\. The checklist asks: “/);
    assert.match(told, /name the supplies, and the task lists none\. The checklist asks: “/);
    assert.match(told, /No indicator on the table suits\..*14 mm/);
    await page.getByRole('link', { name: 'Table', exact: true }).first().click();
    await page.locator('summary', { hasText: 'Two-pole indicator, shrouds left off' }).press('Enter');
    await type(page, 'Longest bare tip in mm', '2');
    await page.locator('summary', { hasText: 'Clip for a one-pole breaker' }).press('Enter');
    await tick(page, 'Devices it fits', 'Q2 Porch');
    await page.getByText('Fits Q2.').waitFor();
    await press(page, /^Save$/);
    await good(page, 'the table put right');
    await page.getByRole('link', { name: /^Sources/ }).click();
    await press(page, 'Add a supply');
    await page.keyboard.type('Mains');
    await page.getByLabel('Kind', { exact: true }).selectOption({ label: 'Mains' });
    await good(page, 'sources');
    await press(page, /^Save$/);
    await page.getByRole('link', { name: /Check and publish/ }).click();
    await good(page, 'ready to be published');
    await press(page, 'Publish');
    await page.getByRole('heading', { level: 1, name: `Isolate the porch light, ${size}` }).waitFor();
    assert.match(page.url(), /\/tasks\/[0-9a-f-]{36}\/1$/);
    assert.deepEqual(complaints, []);
    await context.close();
  });
}

test('without script the same forms say the same, and the second of two editors is told what changed', async () => {
  const { context, page } = await open(SCREENS.portrait, { javaScriptEnabled: false });
  await page.goto(`${demo.address}/tasks`);
  await page.getByLabel('Title').fill('Ours without script');
  await page.getByRole('button', { name: 'Make the task' }).click();
  const late = await context.newPage();
  await late.goto(page.url());
  await page.getByLabel('Volts between line and neutral').fill('lots');
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await page.getByText('Please give a whole number from 50 to 1000.').waitFor();
  assert.equal(await page.getByLabel('Volts between line and neutral').inputValue(), 'lots');
  await late.getByLabel('Name of the board').fill('Typed too late');
  await late.getByRole('button', { name: 'Save', exact: true }).click();
  await late.getByRole('heading', { name: 'Nothing was saved' }).waitFor();
  const told = await late.locator('.faults').textContent();
  assert.match(told, /230 became “lots”/);
  assert.match(told, /Typed too late/);
  await context.close();
});
