// From an installation that holds nothing to the first session that is signed: nothing but the browser, as a new manager goes.
import assert from 'node:assert/strict';
import { after, before, test as plain } from 'node:test';
import { SCREENS, openPage, startBrowser, startEmpty } from './demo.mjs';

/** A test that hangs is a test that fails. */
const test = (name, body) => plain(name, { timeout: 180_000 }, body);

const PASSWORD = 'kettle under seven larches';

let service;
let browser;

before(async () => {
  service = await startEmpty();
  browser = await startBrowser();
});

after(async () => {
  await browser?.close();
  await service?.stop();
});

/** Counts what somebody does to get there: pages that come, fields that are filled in, things that are pressed. */
function counted(page) {
  const done = { pages: 0, fields: 0, presses: 0 };
  page.on('domcontentloaded', () => { done.pages += 1; });
  return {
    done,
    async fill(label, text) {
      await page.getByLabel(label).first().fill(text);
      done.fields += 1;
    },
    async choose(label, option) {
      await page.getByLabel(label).first().selectOption(option);
      done.fields += 1;
    },
    async check(locator) {
      await locator.check();
      done.presses += 1;
    },
    async press(locator) {
      await locator.click();
      await page.waitForLoadState();
      done.presses += 1;
    },
  };
}

test('an empty installation reaches its first signed session in the browser alone', async (t) => {
  const { context, page, complaints } = await openPage(browser, SCREENS.landscape);
  const { done, fill, choose, check, press } = counted(page);
  const button = (name) => page.getByRole('button', { name, exact: true });
  const link = (name) => page.getByRole('link', { name, exact: true });

  await page.goto(service.address);
  await fill('One-time code', service.code);
  await fill('Name of the centre', 'North Yard Training (invented)');
  await fill('Code of the centre', 'north-yard');
  await fill('Time zone', 'Europe/Dublin');
  await choose('Whose rules', 'ie');
  await fill('Your name', 'Kim Oyelaran');
  await fill('Your sign-in name', 'kim.o');
  await fill('Your password', PASSWORD);
  await press(button('Begin the centre'));
  await page.getByRole('heading', { name: 'First steps' }).waitFor();

  // Whoever runs a small centre assesses in it too.
  await press(link('Invite your staff'));
  await press(page.getByRole('link', { name: 'Kim Oyelaran' }).last());
  await check(page.getByLabel('Assessor').first());
  await press(button('Save the roles'));

  await press(link('Checklists'));
  await check(page.getByLabel('the starter checklist of a scheme'));
  await fill('Title', 'Isolation, level 2');
  await press(button('Make the checklist'));
  await press(link('Publish'));
  await press(button('Publish'));
  await page.getByText('Published. This version never changes').waitFor();

  await press(link('Tasks'));
  await fill('Title', 'Isolate the stairwell lights');
  await press(button('Make the task'));
  await press(link('Checklist'));
  await choose('Checklist', { index: 1 });
  await press(button('Save and go on'));
  await press(page.getByRole('link', { name: /^Check and publish/ }));
  // The starter checklist asks for every supply to be named; the example task lists none, and is refused for it.
  await page.getByText('It cannot be published yet').waitFor();
  await press(page.locator('.tabs').getByRole('link', { name: /^Sources/ }));
  await press(page.getByRole('button', { name: /^Add/ }).first());
  await fill('Label', 'The mains, by Q2');
  await choose('Kind', { label: 'Mains' });
  await choose('Isolated by', { label: 'Q2 Stairwell lights' });
  await press(button('Save'));
  await press(page.getByRole('link', { name: /^Check and publish/ }));
  await press(page.getByRole('button', { name: /^Publish/ }));

  await press(link('Candidates'));
  await press(page.getByRole('link', { name: /^Add/ }).first());
  await fill('Name', 'Zażółć Invented');
  await fill('Reference', 'NY-1');
  await press(button('Add'));

  await press(link('Plan'));
  await press(page.getByRole('link', { name: /^Plan a session/ }).first());

  await press(page.getByRole('link', { name: 'Zażółć Invented' }));
  await choose('Task', { index: 1 });
  await fill('Bay', 'Bay 1');
  await choose('Assessor', { label: 'Kim Oyelaran' });
  await fill('Time', '23:00');
  await press(button('Plan this session'));
  await page.getByText('Nothing is planned for this day').waitFor({ state: 'detached' });

  t.diagnostic(`until the first session is planned: ${JSON.stringify(done)}`);

  await press(link('Sessions'));
  await press(page.getByRole('link', { name: 'Prepare the bay' }));
  for (const box of await page.getByRole('checkbox').all()) await check(box);
  await check(page.getByRole('radio').first());
  await press(button('Open the marking page'));
  await page.waitForURL(/\/marking$/);
  const tap = async (name) => {
    const count = Number(await page.locator('#record').getAttribute('data-count'));
    await page.getByRole('button', { name }).first().tap();
    await page.waitForFunction((before) => Number(document.getElementById('record')?.dataset.count) > before, count);
    done.presses += 1;
  };
  for (const name of ['Start', 'Finds circuit', 'Asks leave', /^Padlock/, /^E then N/, 'Declares', 'End']) await tap(name);

  await press(page.getByRole('link', { name: 'Decide' }));
  const open = page.locator('article', { hasText: 'needs you' });
  for (let left = await open.count(); left > 0; left -= 1) {
    await press(open.first().getByRole('button', { name: /^(Confirm: not met|\W*Met)$/ }));
    assert.equal(await open.count(), left - 1);
  }
  await page.getByLabel(/^Password of/).fill(PASSWORD);
  done.fields += 1;
  await press(button('Sign the result'));
  await page.getByRole('heading', { name: /^Signed/ }).waitFor();
  assert.deepEqual(complaints, []);
  t.diagnostic(`until it is signed: ${JSON.stringify(done)}`);
  await context.close();
});
