// Candidates in a real browser: added, found, imported from a file with its columns put right, and erased.
import assert from 'node:assert/strict';
import { after, before, test as plain } from 'node:test';
import { accessible, fits, reachable } from './axe.mjs';
import { SCREENS, openPage, signIn, startBrowser, startDemo } from './demo.mjs';

/** A test that hangs is a test that fails. */
const test = (name, body) => plain(name, { timeout: 120_000 }, body);

/** Names as people write them. */
const NAMES = ['Sukarno', 'Ng', 'O’Brien-Ní Dhomhnaill', 'Zażółć', 'محمد بن عبد الله', '李小龍', '=1+1', 'é'.repeat(200)];

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

/** A manager, signed in, and what the browser complains about. */
async function open(viewport, more = {}) {
  const { context, page, complaints } = await openPage(browser, viewport, more, / 4(03|09|22) /);
  await signIn(page, demo, 'odile');
  return { context, page, complaints };
}

/** Accessible, nothing wider than the screen, no target under 44 px. */
async function good(page, where) {
  await accessible(page, where);
  await fits(page, where);
  await reachable(page, 'main :is(button, .button, select, input:not([type=hidden], [type=checkbox]):not(.unseen))', where);
}

test('names as people write them are added, shown in their own direction, found and changed', async () => {
  const { context, page, complaints } = await open(SCREENS.phone);
  for (const [at, name] of NAMES.entries()) {
    await page.goto(`${demo.address}/candidates/new`);
    if (at === 0) await good(page, 'adding');
    await page.getByLabel('Name', { exact: true }).fill(name);
    await page.getByLabel('Reference').fill(`X12-${at}`);
    await page.getByRole('button', { name: 'Add' }).click();
    assert.equal(await page.getByRole('heading', { level: 1 }).textContent(), name);
    assert.equal(await page.locator('h1 bdi').count(), 1);
    await good(page, name);
  }
  assert.equal(await page.locator('h1').evaluate((one) => getComputedStyle(one).overflowWrap !== 'normal' || one.scrollWidth <= one.clientWidth), true);
  await page.goto(`${demo.address}/candidates`);
  for (const [find, name] of [['dhom', NAMES[2]], ['zazolc x12-3', NAMES[3]], ['عبد', NAMES[4]], ['小', NAMES[5]], ['x12-6', NAMES[6]]]) {
    await page.getByLabel('Find by name or reference').fill(find);
    await page.getByRole('button', { name: 'Find' }).click();
    assert.deepEqual(await page.locator('.list th[scope=row] a').allTextContents(), [name], find);
  }
  await page.getByRole('link', { name: 'Show all' }).click();
  await good(page, 'the list');
  const arabic = page.locator('.list bdi', { hasText: NAMES[4] });
  assert.equal(await arabic.evaluate((one) => getComputedStyle(one).unicodeBidi), 'isolate');

  await page.getByRole('link', { name: NAMES[0] }).click();
  await page.getByRole('link', { name: 'Change details' }).click();
  await page.getByLabel('Extra time in per cent').fill('a quarter');
  await page.getByRole('button', { name: 'Save the changes' }).click();
  await page.getByText('Nothing was saved yet').waitFor();
  assert.equal(await page.getByLabel('Extra time in per cent').inputValue(), 'a quarter');
  await good(page, 'a fault beside its field');
  await page.getByLabel('Extra time in per cent').fill('25');
  await page.getByRole('button', { name: 'Save the changes' }).click();
  await page.getByText('25 % more time').waitFor();
  assert.deepEqual(complaints, []);
  await context.close();
});

test('a file is imported with its columns put right, without script, and the same file makes no doubles', async () => {
  const { context, page } = await open(SCREENS.portrait, { javaScriptEnabled: false });
  // Windows-1252, with names that its readers mistake, and heads that say nothing.
  const bytes = Buffer.from('Wer;Nr;Zeit\r\nZo\xEB B\xF6hm;W-1;25\r\n"M\xFCller; Jan";W-2;x\r\nIn\xEAs \x96 Ray;W-3;\r\n', 'latin1');
  for (const again of [false, true]) {
    await page.goto(`${demo.address}/candidates/import`);
    await page.getByLabel('File').setInputFiles({ name: 'list.csv', mimeType: 'text/csv', buffer: bytes });
    await page.getByRole('button', { name: 'Look at it' }).click();
    assert.equal(await page.getByLabel('Encoding').inputValue(), 'windows-1252');
    assert.match(await page.locator('.preview').textContent(), /Zoë Böhm.*Müller; Jan.*Inês – Ray/s);
    await page.getByLabel('The first row names the columns').check();
    await page.getByRole('button', { name: 'Read it again' }).click();
    await page.getByLabel('Wer').selectOption({ label: 'Name' });
    await page.getByRole('button', { name: 'Check the rows' }).click();
    await page.getByText('Nothing was saved yet').waitFor();
    await page.getByLabel('Nr').selectOption({ label: 'Reference' });
    await page.getByLabel('Zeit').selectOption({ label: 'Extra time in per cent' });
    await page.getByRole('button', { name: 'Check the rows' }).click();
    await page.getByRole('heading', { name: 'What it would do' }).waitFor();
    assert.match(await page.locator('.list').first().textContent(), /Row 3.*Zeit.*whole number/s);
    if (again) {
      assert.match(await page.locator('main').textContent(), /nothing to import but rows with faults/);
      continue;
    }
    await page.getByRole('button', { name: 'Add 2' }).click();
    await page.getByText('Nothing was imported').waitFor();
    await page.getByLabel('Leave out the row with a fault').check();
    await page.getByRole('button', { name: 'Add 2' }).click();
    await page.getByText('2 added, 0 changed, 1 left out').waitFor();
    const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Download the rows with faults' }).click()]);
    assert.equal(download.suggestedFilename(), 'not-imported.csv');
  }
  await page.goto(`${demo.address}/candidates?find=w-3`);
  assert.deepEqual(await page.locator('.list th[scope=row] a').allTextContents(), ['Inês – Ray']);
  await context.close();
});

test('every page of an import and of erasing is accessible, and an erased name is gone', async () => {
  const { context, page, complaints } = await open(SCREENS.phone);
  await page.goto(`${demo.address}/candidates/import`);
  await good(page, 'choosing the file');
  await page.getByRole('button', { name: 'Look at it' }).click();
  await page.locator('#file-fault').waitFor();
  await good(page, 'no file');
  await page.getByLabel('Or paste the rows here').fill('name\treference\textra time\nErna Vale\tE-1\t\nBad Row\tE-2\tmuch\n');
  await page.getByRole('button', { name: 'Look at it' }).click();
  await good(page, 'choosing the columns');
  await page.getByRole('button', { name: 'Check the rows' }).click();
  await good(page, 'what it would do');
  await page.getByLabel(/^Leave out/).check();
  await page.getByRole('button', { name: 'Add 1' }).click();
  await good(page, 'imported');

  await page.goto(`${demo.address}/candidates?find=SQ-10`);
  await page.locator('.list th[scope=row] a').first().click();
  const name = await page.getByRole('heading', { level: 1 }).textContent();
  await page.getByRole('link', { name: 'Copy of their data' }).click();
  await page.getByText('Why and how long').waitFor();
  await good(page, 'the copy');
  await page.getByRole('link', { name: 'Back to the candidate' }).click();
  await page.getByRole('link', { name: 'Erase their details' }).click();
  await good(page, 'erasing');
  const why = page.getByLabel('Why can it not wait?');
  await page.getByLabel(/^Password of/).fill('not the password');
  await page.getByRole('button', { name: 'Erase for good' }).click();
  await page.locator('#password-fault').waitFor();
  await good(page, 'erasing, refused');
  if (await why.count()) await why.selectOption({ label: 'A court or an authority asks for it' });
  await page.getByLabel(/^Password of/).fill(demo.signIns.odile);
  await page.getByRole('button', { name: 'Erase for good' }).click();
  await page.getByText('were erased on').waitFor();
  await good(page, 'erased');
  await page.goto(`${demo.address}/candidates/erasures`);
  await good(page, 'the list of erasures');
  for (const path of ['/candidates', '/sessions/all', '/candidates/erasures']) {
    await page.goto(`${demo.address}${path}`);
    assert.ok(!(await page.locator('main').textContent())?.includes(String(name)), `${path} still shows the name`);
  }
  assert.deepEqual(complaints, []);
  await context.close();
});
