// Who may send what a tablet keeps: sign-ins that ran out, colleagues, a tablet that lies about.
import assert from 'node:assert/strict';
import { after, before } from 'node:test';
import { openBay, outbox, plan, ready, saved, says, sql, tap, test } from './bench.mjs';
import { signIn } from './demo.mjs';
import { startRig } from './offline.mjs';

let demo;
let proxy;
let signedIn;
let begin;
let inStore;
let whole;
let stop;

before(async () => {
  ({ demo, proxy, signedIn, begin, inStore, whole, stop } = await startRig());
});

after(() => stop?.());

test('a sign-in that ran out costs no tap; only the person who tapped can send; then all is sent', async () => {
  const { context, page, id } = await begin();
  await context.clearCookies();
  for (const name of ['E then N', 'N then E', 'E then SL']) await tap(page, name);
  await says(page, /signed out, 3 saved on tablet/);
  await page.locator('#gate[open]').waitFor({ timeout: 12_000 });
  await page.locator('#p3b').tap();
  await says(page, /signed out, 4 saved on tablet/);
  const enter = async (name) => {
    await page.getByLabel('Sign-in name').fill(`${name}@sable-quay`);
    await page.getByLabel('Password').fill(demo.signIns[name]);
    await page.getByRole('button', { name: 'Sign in', exact: true }).tap();
  };
  await enter('bram');
  await page.getByText('That is another person').waitFor();
  await page.waitForTimeout(1_500);
  assert.equal((await outbox(page)).length, 4, 'nothing went out under another name');
  assert.equal(inStore(id), 1);
  await enter('ines');
  await saved(page, 15_000);
  assert.equal(inStore(id), 5);
  assert.deepEqual(await outbox(page), []);
  await context.close();
});

test('another user of the tablet sees how many a colleague left, and can neither read nor send them', async () => {
  const { context, page, id } = await begin();
  proxy.cut();
  for (const name of ['E then N', 'Note', /^Work at height/]) await tap(page, name);
  await says(page, /4 saved on tablet/);
  await page.close();
  proxy.pass();
  sql(demo, `UPDATE staff SET roles = roles || '{assessor}' WHERE sign_in_name = 'bram' AND NOT roles @> '{assessor}'`);
  await context.clearCookies();
  const other = await context.newPage();
  await signIn(other, { ...demo, address: proxy.address }, 'bram');
  const own = plan(demo, 'stairwell', 2);
  await openBay(other, proxy.address, own);
  await tap(other, 'Start');
  await says(other, /all saved · 4 of a colleague/);
  assert.doesNotMatch(await other.locator('body').textContent(), /Work at height/);
  await other.waitForTimeout(2_500);
  assert.equal((await outbox(other)).length, 4);
  assert.equal(inStore(id), 1);
  await context.clearCookies();
  await context.addCookies(signedIn.cookies);
  const back = await context.newPage();
  await back.goto(`${proxy.address}/sessions/${id}/marking`);
  await ready(back);
  await whole(back, id, 5);
  await context.close();
});

test('the tablet locks after 20 idle minutes, never while offline', async () => {
  const { context, page } = await begin('stairwell', (one) => one.clock.install());
  proxy.cut();
  await tap(page, 'E then N');
  await says(page, /offline, 1 saved on tablet/);
  await context.clock.fastForward(21 * 60_000);
  await page.waitForTimeout(1_000);
  assert.equal(await page.locator('#gate[open]').count(), 0);
  proxy.pass();
  await tap(page, 'N then E');
  await saved(page, 15_000);
  await context.clock.fastForward(21 * 60_000);
  await page.getByRole('heading', { name: 'Locked' }).waitFor();
  assert.ok(await page.locator('#gate').evaluate((one) => one.matches(':modal')));
  await page.keyboard.press('Escape');
  assert.equal(await page.locator('#gate[open]').count(), 1);
  await page.getByLabel('Sign-in name').fill('ines@sable-quay');
  await page.getByLabel('Password').fill(demo.signIns.ines);
  await page.getByRole('button', { name: 'Sign in', exact: true }).tap();
  await page.locator('#gate[open]').waitFor({ state: 'detached' });
  await tap(page, 'E then SL');
  await saved(page);
  await context.close();
});
