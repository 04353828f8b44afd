// From the candidate's link to a review and back, on a phone: what they read in four languages, withdrawn and opened again,
// a review asked for, amended by a second person, and told in words.
import assert from 'node:assert/strict';
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

/** A page of its own, and what the browser complains about. */
async function open(viewport, more = {}) {
  return openPage(browser, viewport, more, / 4(03|09|22) /);
}

/** Opens the candidate's link with its code. */
async function visit(page, { link, code }) {
  await page.goto(link);
  await page.locator('#code').fill(code);
  await page.locator('button.primary').click();
  await page.waitForURL(/\/feedback(\?|$)/);
}

/** Accessible, nothing wider than the screen, no target under 44 px. */
async function good(page, where) {
  await accessible(page, where);
  await fits(page, where);
  await reachable(page, ':is(main :is(button, .button, select, summary, input:not([type=hidden])), .languages a)', where);
}

/** Everything folded away is shown. */
const unfold = (page) => page.evaluate(() => { for (const one of document.querySelectorAll('details')) one.open = true; });

test('the candidate reads the feedback on a phone, in four languages, without script', async () => {
  const { context, page, complaints } = await open(SCREENS.phone, { javaScriptEnabled: false });
  await page.goto(demo.links[1].link);
  for (const wrong of ['AAAA-AAAA', 'BBBB-BBBB']) {
    await page.locator('#code').fill(wrong);
    await page.locator('button.primary').click();
    await page.locator('#refused').waitFor();
  }
  await visit(page, demo.links[1]);
  assert.equal(await page.getByRole('heading', { level: 1 }).textContent(), 'You did not pass this time.');
  const [first] = await page.locator('main').allTextContents();
  assert.ok(first.trim().startsWith('You did not pass this time.'), 'the outcome comes first');
  const changes = await page.locator('.change').count();
  assert.ok(changes >= 1 && changes <= 3, `${changes} things to change`);
  assert.ok(await page.locator('.praise li').count() >= 3, 'three things that went well');
  for (const [language, outcome, ask] of [
    ['cy', 'Ni wnaethoch basio y tro hwn.', 'Gofyn am adolygiad'],
    ['pl', 'Tym razem wynik nie jest pozytywny.', 'Poproś o ponowne sprawdzenie'],
    ['es', 'Esta vez no has aprobado.', 'Pedir una revisión'],
  ]) {
    await page.locator(`.languages a[lang=${language}]`).click();
    assert.equal(await page.getByRole('heading', { level: 1 }).textContent(), outcome);
    assert.equal(await page.locator('html').getAttribute('lang'), language);
    assert.equal(await page.getByRole('button', { name: ask }).count(), 1);
  }
  assert.deepEqual(complaints, []);
  await context.close();
});

test('every page of the candidate is accessible in every language, at three sizes, and with wide letters', async () => {
  const { context, page, complaints } = await open(SCREENS.phone);
  await page.goto(demo.links[1].link);
  await good(page, 'the form for the code');
  await page.locator('#code').fill('AAAA-AAAA');
  await page.locator('button.primary').click();
  await page.locator('#refused').waitFor();
  await good(page, 'a wrong code');
  await visit(page, demo.links[1]);
  for (const [size, viewport] of Object.entries(SCREENS)) {
    await page.setViewportSize(viewport);
    for (const language of ['en', 'cy', 'pl', 'es']) {
      await page.goto(`${demo.address}/feedback?lang=${language}`);
      await unfold(page);
      await good(page, `${language}, ${size}`);
    }
  }
  // WCAG 1.4.12, and a screen of 320 px (1.4.10).
  await page.setViewportSize({ width: 320, height: 640 });
  await page.evaluate(() => {
    const wide = new CSSStyleSheet();
    wide.replaceSync('* { line-height: 1.5 !important; letter-spacing: .12em !important; word-spacing: .16em !important; } p { margin-block-end: 2em !important; }');
    document.adoptedStyleSheets = [wide];
  });
  const [content, screen] = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
  assert.ok(content <= screen, `${content} px on ${screen}`);
  // Text in the picture is not made smaller than 12 px on a phone.
  await page.setViewportSize(SCREENS.phone);
  await page.goto(`${demo.address}/feedback`);
  const text = await page.locator('.timeline svg text').first().evaluate((one) => 13 * one.getScreenCTM().a);
  assert.ok(text >= 12, `${text} px`);
  assert.deepEqual(complaints, []);
  await context.close();
});

test('turned from right to left nothing leaves the page, and times and names keep their own direction', async () => {
  const { context, page } = await open(SCREENS.phone);
  await visit(page, demo.links[1]);
  await page.evaluate(() => { document.documentElement.dir = 'rtl'; });
  await unfold(page);
  await good(page, 'from right to left');
  const [outer, inner] = await page.locator('.praise li').first().evaluate((one) => [getComputedStyle(one).borderInlineStartWidth, getComputedStyle(one).borderRightWidth]);
  assert.equal(outer, inner, 'the bar beside what went well is on the side where reading begins');
  assert.equal(await page.locator('.timeline li bdi').first().evaluate((one) => getComputedStyle(one).direction), 'ltr');
  await context.close();
});

test('withdrawn feedback says so on the candidate’s page, and comes back when it is opened again', async () => {
  const candidate = await open(SCREENS.phone);
  await visit(candidate.page, demo.links[0]);
  assert.equal(await candidate.page.getByRole('heading', { level: 1 }).textContent(), 'You passed.');
  const { context, page, complaints } = await open(SCREENS.portrait);
  await signIn(page, demo, 'ines');
  await page.getByRole('link', { name: /Farrow/ }).first().click();
  await page.getByRole('link', { name: 'Open, hold or withdraw it' }).click();
  await good(page, 'open');
  await page.getByRole('button', { name: 'Withdraw it' }).click();
  await page.locator('#reason-fault').waitFor();
  await good(page, 'a reason is needed');
  await page.getByLabel('Why').fill('The bay was set up wrongly.');
  await page.getByRole('button', { name: 'Withdraw it' }).click();
  await page.getByText('The feedback was withdrawn.').waitFor();
  for (const [size, viewport] of Object.entries(SCREENS)) {
    await page.setViewportSize(viewport);
    await good(page, `withdrawn, ${size}`);
  }
  await candidate.page.reload();
  assert.equal(await candidate.page.getByRole('heading', { level: 1 }).textContent(), 'Your feedback was withdrawn');
  assert.ok(!(await candidate.page.locator('main').textContent())?.includes('passed'));
  await good(candidate.page, 'withdrawn, for the candidate');
  await page.getByRole('button', { name: 'I told them in person: open it' }).click();
  await page.getByText('Told in person; open since then').waitFor();
  assert.match(await page.locator('.release-steps').textContent() ?? '', /Withdrawn.*The bay was set up wrongly/s);
  await candidate.page.reload();
  assert.equal(await candidate.page.getByRole('heading', { level: 1 }).textContent(), 'You passed.');
  assert.deepEqual([...complaints, ...candidate.complaints], []);
  await context.close();
  await candidate.context.close();
});

test('a review is asked for on a phone, amended by a second person, and told in words beside the first result', async () => {
  const candidate = await open(SCREENS.phone);
  await visit(candidate.page, demo.links[1]);
  await candidate.page.locator('#reason').evaluate((one) => one.removeAttribute('required'));
  await candidate.page.getByRole('button', { name: 'Ask for a review' }).click();
  await candidate.page.locator('#reason-fault').waitFor();
  await good(candidate.page, 'a review without a reason');
  await candidate.page.locator('#reason').fill('I only touched the label of Q4.\nمرحبا');
  await candidate.page.getByRole('button', { name: 'Ask for a review' }).click();
  await candidate.page.getByText('You asked for a review on').waitFor();
  await good(candidate.page, 'asked for');

  const { context, page, complaints } = await open(SCREENS.landscape);
  await signIn(page, demo, 'bram');
  await page.getByRole('link', { name: 'Reviews' }).click();
  await good(page, 'the list');
  await page.getByRole('link', { name: /Brandt/ }).click();
  for (const [size, viewport] of Object.entries(SCREENS)) {
    await page.setViewportSize(viewport);
    await unfold(page);
    await good(page, `the review, ${size}`);
  }
  await page.getByRole('button', { name: 'End the review' }).click();
  await page.locator('#words-fault').waitFor();
  await good(page, 'without words');
  const finding = page.locator('form details.fold', { hasText: 'Switches off the named device' });
  await finding.evaluate((one) => { one.open = true; });
  await finding.getByLabel('Your decision').selectOption({ label: 'Met' });
  await finding.getByLabel('Why, in words').fill('The film shows that Q4 was not moved.');
  await page.getByLabel('What the candidate reads').fill('I watched the film. You were right about Q4.');
  await page.getByRole('button', { name: 'End the review' }).click();
  await page.getByText('Amended', { exact: false }).first().waitFor();
  await good(page, 'ended');
  await page.getByRole('link', { name: 'Result sheet' }).click();
  assert.match(await page.locator('main').textContent() ?? '', /an automatic fail stands.*Amended on review.*The film shows that Q4/s);
  await good(page, 'the sheet with both results');

  await candidate.page.goto(`${demo.address}/feedback`);
  const read = await candidate.page.locator('main').textContent() ?? '';
  for (const part of ['It changed points, but not the outcome.', 'Your first result was: automatic fail.', 'You were right about Q4.', 'The film shows']) {
    assert.ok(read.includes(part), part);
  }
  await good(candidate.page, 'told of the review');
  assert.deepEqual([...complaints, ...candidate.complaints], []);
  await context.close();
  await candidate.context.close();
});
