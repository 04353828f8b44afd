import { startDemo, startBrowser, signIn, SCREENS } from './demo.mjs';
import { mkdir } from 'node:fs/promises';
const out='/tmp/story/shots'; await mkdir(out,{recursive:true});
const demo = await startDemo(); const browser = await startBrowser();
try {
  const open = async (n, link, viewport=SCREENS.phone) => {
    const context = await browser.newContext({ viewport, deviceScaleFactor: 1 });
    const page = await context.newPage();
    await page.goto(link.link); 
    if (n===1) await page.screenshot({ path: `${out}/ask-${viewport.width}.png`, fullPage: true });
    await page.locator('#code').fill(link.code); await page.locator('button.primary').click(); await page.waitForURL(/\/feedback(\?|$)/);
    return page;
  };
  for (const [name, viewport] of Object.entries(SCREENS)) {
    const failed = await open(1, demo.links[1], viewport);
    await failed.screenshot({ path: `${out}/failed-${name}.png`, fullPage: true });
    if (name==='phone') for (const l of ['cy','pl','es']) { await failed.goto(`${demo.address}/feedback?lang=${l}`); await failed.screenshot({ path: `${out}/failed-${l}.png`, fullPage: true }); 
       console.log(l, await failed.evaluate(()=>[document.documentElement.scrollWidth, innerWidth])); }
    const passed = await open(0, demo.links[0], viewport);
    if (name!=='portrait') await passed.screenshot({ path: `${out}/passed-${name}.png`, fullPage: true });
    if (name==='phone') {
      await passed.goto(`${demo.address}/feedback?lang=pl#review`);
      await passed.locator('textarea').fill('Punkt o kluczu: klucz był w mojej kieszeni.');
      await failed.goto(`${demo.address}/feedback`);
      await failed.locator('textarea').fill('Point: key kept.\nIt was in my pocket all the time.');
      await failed.locator('#review button').click(); await failed.waitForLoadState();
      await failed.locator('#review').screenshot({ path: `${out}/asked-phone.png` });
    }
  }
  const context = await browser.newContext({ viewport: SCREENS.landscape }); const page = await context.newPage();
  await signIn(page, demo, 'bram');
  for (const [name, viewport] of Object.entries(SCREENS)) {
    await page.setViewportSize(viewport);
    await page.goto(`${demo.address}/reviews`); await page.screenshot({ path: `${out}/reviews-${name}.png`, fullPage: true });
    await page.locator('.reviews a').first().click(); await page.waitForLoadState();
    await page.locator('details.fold').first().evaluate((one)=>{one.open=true;});
    await page.screenshot({ path: `${out}/review-${name}.png`, fullPage: true });
    await page.getByRole('link',{name:'Result sheet'}).click(); await page.waitForLoadState();
    if (name==='landscape') await page.screenshot({ path: `${out}/sheet-${name}.png`, fullPage: true });
  }
  const url = page.url();
  const c2 = await browser.newContext({ viewport: SCREENS.landscape }); const p2 = await c2.newPage();
  await signIn(p2, demo, 'odile');
  await p2.goto(url.replace('/sheet','/release'));
  for (const [name, viewport] of Object.entries(SCREENS)) { await p2.setViewportSize(viewport); await p2.goto(url.replace('/sheet','/release')); await p2.screenshot({ path: `${out}/release-open-${name}.png`, fullPage: true }); }
  await p2.getByLabel('Why').fill('A second look'); await p2.getByRole('button',{name:'Withdraw it'}).click(); await p2.waitForLoadState();
  for (const [name, viewport] of Object.entries(SCREENS)) { await p2.setViewportSize(viewport); await p2.goto(url.replace('/sheet','/release')); await p2.screenshot({ path: `${out}/release-${name}.png`, fullPage: true }); }
  const failed = await open(2, demo.links[1]); await failed.screenshot({ path: `${out}/withdrawn.png`, fullPage: true });
} finally { await browser.close(); await demo.stop(); }
