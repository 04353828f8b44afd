import { SCREENS, signIn, startBrowser, startDemo } from './demo.mjs';
const demo = await startDemo();
const browser = await startBrowser();
const shots = async (page, name) => { for (const [size, viewport] of Object.entries(SCREENS)) { await page.setViewportSize(viewport); await page.screenshot({ path: `/tmp/keep-shots/${name}-${size}.png`, fullPage: true }); } };
const context = await browser.newContext({ viewport: SCREENS.landscape, hasTouch: true });
const page = await context.newPage();
page.setDefaultTimeout(15000);
try {
await signIn(page, demo, 'odile');
await page.goto(`${demo.address}/centre/records`); await shots(page, '1-records');
await page.goto(`${demo.address}/centre/records/periods`); await shots(page, '2-periods');
await page.getByLabel(/^Sessions passed/).fill('999'); await page.locator('button.primary').click(); await shots(page, '3-fault');
await page.getByLabel(/^Sessions passed/).fill('36'); await page.getByLabel(/^Feedback links/).fill('1'); await page.getByLabel(/^Words/).fill('2'); await page.getByLabel(/^Sessions not/).fill('3');
await page.locator('button.primary').click(); await page.waitForURL(/saved/); await shots(page, '4-saved');
await page.locator('.dues a').first().click(); await shots(page, '5-due');
await page.goto(`${demo.address}/candidates`); await page.locator('.list th a').first().click(); await page.getByRole('link', { name: 'Hold their records' }).click(); await shots(page, '6-hold');
await page.getByLabel('Why').selectOption('claim'); await page.locator('button.primary').click(); await page.waitForURL(/held/); await shots(page, '7-held');
await page.getByRole('link', { name: /^Lift/ }).click(); await shots(page, '8-lift');
} catch (e) { console.log(String(e)); await page.screenshot({path:'/tmp/keep-shots/err.png'}); }
await browser.close(); await demo.stop();
