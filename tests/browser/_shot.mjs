import { startDemo, startBrowser, signIn, SCREENS } from './demo.mjs';
const demo = await startDemo(); const browser = await startBrowser();
try {
  for (const [name, viewport] of Object.entries(SCREENS)) {
    const context = await browser.newContext({ viewport, hasTouch: true });
    const page = await context.newPage(); page.setDefaultTimeout(10000);
    page.on('console', (m) => { if (m.type() === 'error') console.log(name, m.text()); });
    await signIn(page, demo, 'ines');
    const shot = async (what, full = true) => { await page.screenshot({ path: `/tmp/shots-crit/${what}-${name}.png`, fullPage: full }); const w = await page.evaluate(() => [document.documentElement.scrollWidth, innerWidth]); if (w[0] > w[1]) console.log('WIDE', what, name, w); };
    await page.goto(`${demo.address}/checklists`); await shot('list');
    await page.goto(`${demo.address}/criteria`); await shot('criteria', false);
    await page.locator('details > summary').first().click(); await shot('criteria-open', false);
    await page.goto(`${demo.address}/criteria/new`); await shot('write');
    await page.getByLabel('What the candidate does').fill('Leaves the yard light alone');
    await page.getByLabel('Stage', { exact: true }).fill('Manner');
    await page.locator('input[value=indicator_suitable]').check();
    await page.getByRole('button', { name: 'Save or go on' }).click(); await shot('parameters');
    await page.getByRole('button', { name: 'Back' }).click();
    await page.locator('input[value=never]').check();
    await page.getByRole('button', { name: 'Save or go on' }).click(); await shot('kind');
    await page.getByLabel('The act that must never be seen').selectOption('switched');
    await page.getByRole('button', { name: 'Save or go on' }).click(); await shot('fields');
    await page.getByRole('button', { name: 'Save' }).click(); await shot('saved', false);
    await page.goto(`${demo.address}/checklists`);
    await page.getByRole('link', { name: 'All steps, being written' }).click(); await shot('editor', false);
    await page.locator('.rows details > summary').first().click(); await shot('editor-open', false);
    await page.getByLabel('New stage').fill(`Another ${name}`); await page.getByRole('button', { name: 'Add the stage' }).click(); await shot('editor-full');
    await page.getByRole('link', { name: /^Add criteria/ }).last().click(); await shot('pick', false);
    await page.goBack();
    await page.getByRole('link', { name: 'Publish' }).click(); await shot('publish');
    await page.getByRole('link', { name: 'Preview' }).click(); await shot('preview', false);
    await page.getByRole('link', { name: 'What would change' }).click(); await shot('change-ask');
    await page.getByLabel('Sessions of').selectOption({ index: 0 });
    await page.getByRole('button', { name: 'Mark them anew' }).click(); await shot('change');
    await page.goto(`${demo.address}/checklists/import`); await shot('import');
    await context.close();
  }
} finally { await browser.close(); await demo.stop(); }
