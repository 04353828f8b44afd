// From an empty installation to a centre with two people and a tablet, in a real browser.
import assert from 'node:assert/strict';
import { createHmac } from 'node:crypto';
import { after, before, test as plain } from 'node:test';
import { accessible, fits, reachable } from './axe.mjs';
import { SCREENS, startBrowser, startEmpty } from './demo.mjs';

const SHOTS = process.env.SHOTS;
const PASSWORD = 'kettle under seven larches';
const OTHER = 'nine gulls and one lighthouse';

/** A test that hangs is a test that fails. */
const test = (name, body) => plain(name, { timeout: 180_000 }, body);

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

/** A browser of its own, with what it complains about. */
async function open() {
  const context = await browser.newContext({ viewport: SCREENS.landscape, hasTouch: true });
  const page = await context.newPage();
  page.setDefaultTimeout(10_000);
  const complaints = [];
  // Refusals are part of the walk; the browser reports their status.
  const refusal = /the server responded with a status of (401|403|409|422)/;
  page.on('console', (message) => { if (message.type() === 'error' && !refusal.test(message.text())) complaints.push(message.text()); });
  page.on('pageerror', (error) => complaints.push(String(error)));
  return { context, page, complaints };
}

/** Nothing that axe-core finds in WCAG 2.2 A and AA, nothing wider than any screen, targets of 44 px. */
async function sound(page, where) {
  for (const [name, size] of Object.entries(SCREENS)) {
    await page.setViewportSize(size);
    await accessible(page, `${where}, ${name}`);
    await fits(page, `${where}, ${name}`);
    await reachable(page, 'button, a.button, select, input:not([type=checkbox]):not([type=hidden])', `${where}, ${name}`);
    if (SHOTS) await page.screenshot({ path: `${SHOTS}/${where}-${name}.png`, fullPage: true });
  }
  await page.setViewportSize(SCREENS.landscape);
}

/** The code of RFC 6238 (SHA-1, six digits, 30 s) for a secret in base 32, worked out here and not by the service. */
function oneTime(secret, at = Date.now()) {
  const bits = [...secret.replaceAll(' ', '')].map((one) => 'ABCDEFGHIJKLMNOPQRSTUVWXYZ234567'.indexOf(one).toString(2).padStart(5, '0')).join('');
  const key = Buffer.from(bits.match(/.{8}/g).map((byte) => Number.parseInt(byte, 2)));
  const counter = Buffer.alloc(8);
  counter.writeBigUInt64BE(BigInt(Math.floor(at / 30_000)));
  const digest = createHmac('sha1', key).update(counter).digest();
  const offset = digest[19] & 15;
  return String((digest.readUInt32BE(offset) & 0x7fffffff) % 1_000_000).padStart(6, '0');
}

/** Waits for the next half minute, since a code is taken once. */
async function nextCode(secret) {
  const step = Math.floor(Date.now() / 30_000);
  while (Math.floor(Date.now() / 30_000) === step) await new Promise((resolve) => setTimeout(resolve, 200));
  return oneTime(secret);
}

async function signIn(page, name, password) {
  await page.goto(`${service.address}/sign-in`);
  await page.getByLabel('Sign-in name').fill(name);
  await page.getByLabel('Password').fill(password);
  await page.getByRole('button', { name: 'Sign in' }).click();
}

/** The secret as the page spells it. */
const secretOn = (page) => page.locator('input[name=secret]').inputValue();

test('the vectors of RFC 6238 hold for the phone of these tests', () => {
  // Appendix B, SHA-1, the last six of eight digits.
  const secret = 'GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ';
  assert.equal(oneTime(secret, 59_000), '287082');
  assert.equal(oneTime(secret, 1_111_111_109_000), '081804');
});

test('an empty installation becomes a centre with two people and a tablet', async () => {
  const manager = await open();
  const { page } = manager;
  await page.goto(service.address);
  await page.waitForURL(`${service.address}/begin`);
  await sound(page, 'begin');

  // Everything wrong at once: each fault stands beside its field, and what was typed is kept.
  await page.getByLabel('One-time code').fill(service.code);
  await page.getByLabel('Name of the centre').fill('North Yard Training (invented)');
  await page.getByLabel('Code of the centre').fill('North Yard');
  await page.getByLabel('Time zone').fill('Atlantis');
  await page.getByLabel('Your sign-in name').fill('kim@north');
  await page.getByLabel('Your password').fill('password1234');
  await page.getByRole('button', { name: 'Begin the centre' }).click();
  for (const field of ['centre_code', 'time_zone', 'name', 'sign_in_name', 'password']) {
    await page.locator(`#${field}-fault`).waitFor();
  }
  assert.equal(await page.getByLabel('Name of the centre').inputValue(), 'North Yard Training (invented)');
  await sound(page, 'begin-faults');

  await page.getByLabel('Code of the centre').fill('north-yard');
  await page.getByLabel('Time zone').fill('Europe/Dublin');
  await page.getByLabel('Whose rules').selectOption('ie');
  await page.getByLabel('Your name').fill('Kim Oyelaran');
  await page.getByLabel('Your sign-in name').fill('kim.o');
  await page.getByLabel('Your password').fill(PASSWORD);
  await page.getByRole('button', { name: 'Begin the centre' }).click();
  await page.waitForURL(`${service.address}/centre/next-steps`);
  await page.getByRole('heading', { name: 'First steps' }).waitFor();
  await sound(page, 'next-steps');
  assert.equal((await page.goto(`${service.address}/begin`)).status(), 404);

  // The manager invites somebody and passes the link on.
  await page.goto(`${service.address}/staff`);
  await sound(page, 'staff');
  await page.getByLabel('Whom').fill('Zażółć Brandt');
  await page.getByLabel('Assessor').check();
  await page.getByRole('button', { name: 'Make the link' }).click();
  const link = await page.locator('.handout .code').innerText();
  assert.match(link, /\/invitations\/north-yard\/[0-9a-f]{64}$/);
  await sound(page, 'invitation-link');
  await page.getByRole('link', { name: 'Back to the staff' }).click();
  await page.getByRole('heading', { name: 'Links that wait' }).waitFor();
  await sound(page, 'staff-waiting');

  // The second person joins and sets up one-time codes before anything else.
  const second = await open();
  const theirs = second.page;
  await theirs.goto(link);
  await sound(theirs, 'invitation');
  await theirs.getByLabel('Your name').fill('Zażółć Brandt');
  await theirs.getByLabel('Your sign-in name').fill('zazolc');
  await theirs.getByLabel('Your password').fill(OTHER);
  await theirs.getByRole('button', { name: 'Join' }).click();
  await theirs.waitForURL(`${service.address}/sign-in/second-factor`);
  await sound(theirs, 'set-up');
  const secret = await secretOn(theirs);
  await theirs.getByLabel('Code', { exact: true }).fill('000000');
  await theirs.getByRole('button', { name: 'Set up' }).click();
  await theirs.locator('#code-fault').waitFor();
  assert.equal(await secretOn(theirs), secret, 'the secret stays the same');
  await theirs.getByLabel('Code', { exact: true }).fill(oneTime(secret));
  await theirs.getByRole('button', { name: 'Set up' }).click();
  await theirs.getByRole('heading', { name: 'Recovery codes' }).waitFor();
  assert.equal(await theirs.locator('.codes li').count(), 8);
  await sound(theirs, 'recovery-codes');
  await theirs.getByRole('link', { name: 'go on' }).click();
  await theirs.waitForURL(`${service.address}/`);
  await theirs.getByRole('button', { name: 'Sign out' }).click();

  // From now on: the password, then a code.
  await signIn(theirs, 'zazolc@north-yard', OTHER);
  await theirs.waitForURL(/\/sign-in\/code/);
  await sound(theirs, 'code');
  await theirs.getByLabel('Code').fill(await nextCode(secret));
  await theirs.getByRole('button', { name: 'Go on' }).click();
  await theirs.waitForURL(`${service.address}/`);
  await theirs.getByRole('link', { name: 'Zażółć Brandt' }).click();
  await theirs.getByText('password and one-time code').waitFor();
  await sound(theirs, 'account');

  // A tablet at the bay: the manager enrols it there and leaves it; the second person signs in with the password alone.
  const tablet = await open();
  await tablet.context.addCookies(await manager.context.cookies());
  await tablet.page.goto(`${service.address}/centre/tablets`);
  await sound(tablet.page, 'tablets-empty');
  await tablet.page.getByLabel('Name of the tablet').fill('Bay 2 tablet');
  await tablet.page.getByRole('button', { name: 'Enrol this browser' }).click();
  await tablet.page.getByText('This browser is enrolled as').waitFor();
  await sound(tablet.page, 'tablets');
  await tablet.context.clearCookies({ name: '__Host-signin' });
  await signIn(tablet.page, 'zazolc@north-yard', OTHER);
  await tablet.page.waitForURL(`${service.address}/`);

  // Revoked, it is out at the next click, and a code is asked for again.
  await page.goto(`${service.address}/centre/tablets`);
  await page.getByRole('button', { name: 'Revoke Bay 2 tablet' }).click();
  await page.locator('.sign', { hasText: 'revoked' }).waitFor();
  await tablet.page.goto(service.address);
  await tablet.page.waitForURL(/\/sign-in/);
  await signIn(tablet.page, 'zazolc@north-yard', OTHER);
  await tablet.page.waitForURL(/\/sign-in\/code/);

  // The manager's other pages.
  await page.goto(`${service.address}/staff/2`);
  await sound(page, 'person');
  await page.goto(`${service.address}/centre`);
  await sound(page, 'settings');
  await page.getByLabel('Name on the result sheet').fill('North Yard Skills (invented)');
  await page.getByLabel('Days to ask for a review').fill('0');
  await page.getByRole('button', { name: 'Save' }).click();
  await page.locator('#review_days-fault').waitFor();
  await sound(page, 'settings-fault');
  await page.getByLabel('Days to ask for a review').fill('14');
  await page.getByRole('button', { name: 'Save' }).click();
  await page.getByRole('status').waitFor();
  await page.goto(`${service.address}/centre/record`);
  for (const deed of ['Changed a setting', 'Revoked a tablet', 'Made an invitation', 'Began the centre']) {
    await page.getByText(deed).first().waitFor();
  }
  await sound(page, 'record');

  // Another centre is begun with a code from the shell, and knows nothing of the first.
  const another = await service.anotherCode();
  assert.match(another, /^[2-9A-Z]{4}(-[2-9A-Z]{4}){3}$/);
  const third = await open();
  await third.page.goto(`${service.address}/begin`);
  await third.page.getByLabel('One-time code').fill(another);
  await third.page.getByLabel('Name of the centre').fill('South Yard (invented)');
  await third.page.getByLabel('Code of the centre').fill('south-yard');
  await third.page.getByLabel('Your name').fill('Ash Marchbank');
  await third.page.getByLabel('Your sign-in name').fill('ash');
  await third.page.getByLabel('Your password').fill(PASSWORD);
  await third.page.getByRole('button', { name: 'Begin the centre' }).click();
  await third.page.waitForURL(`${service.address}/centre/next-steps`);
  await third.page.goto(`${service.address}/staff`);
  assert.equal(await third.page.locator('.list tbody tr').count(), 1);

  for (const one of [manager, second, tablet, third]) {
    assert.deepEqual(one.complaints.filter((text) => !text.includes('404')), []);
    await one.context.close();
  }
  // No secret in the log: the code of the beginning, passwords, links, the shared secret.
  const token = link.split('/').at(-1) ?? '';
  for (const word of [service.code, another, PASSWORD, OTHER, token, secret, secret.replaceAll(' ', '')]) {
    assert.ok(!service.log().includes(word), 'a secret stands in the log');
  }
});
