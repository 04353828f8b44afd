import { SCREENS, signIn, startBrowser, startDemo } from './demo.mjs';
import { writeFile, mkdir } from 'node:fs/promises';
const out = '/tmp/decide_shots'; await mkdir(out, { recursive: true });
const demo = await startDemo(); const browser = await startBrowser();
try {
  const ctx = await browser.newContext({ viewport: SCREENS.landscape, hasTouch: true });
  const page = await ctx.newPage(); page.setDefaultTimeout(8000);
  await signIn(page, demo, 'ines');
  console.log(await page.locator('main').innerText());
  const links = await page.locator('main a').evaluateAll((as) => as.map((a) => [a.href, a.textContent.trim().replace(/\s+/g, ' ')]));
  console.log(links);
  const all = {};
  for (const [href] of links) {
    const m = /sessions\/([0-9a-f-]{36})/.exec(href); if (!m) continue;
    const url = `${demo.address}/sessions/${m[1]}`;
    await page.goto(`${url}/decide`);
    all[m[1]] = page.url();
  }
  console.log(all);
  let d = 0, s = 0;
  for (const [id, url] of Object.entries(all)) {
    if (/decide$/.test(url)) d += 1; else if (/sheet$/.test(url)) s += 1; else continue;
    const name = /decide$/.test(url) ? `decide${d}` : `sheet${s}`;
    for (const [size, viewport] of Object.entries(SCREENS)) {
      await page.setViewportSize(viewport); await page.goto(url);
      const w = await page.evaluate(() => document.documentElement.scrollWidth);
      console.log(name, size, w);
      await page.screenshot({ path: `${out}/${name}-${size}.png`, fullPage: true });
    }
    await page.setViewportSize(SCREENS.landscape);
    if (name.startsWith('sheet')) {
      for (const format of ['A4', 'Letter']) await page.pdf({ path: `${out}/${name}-print-${format}.pdf`, format, preferCSSPageSize: false });
      for (const paper of ['a4', 'letter']) {
        const r = await ctx.request.get(`${url}.pdf?paper=${paper}`);
        console.log(r.status(), r.headers()['content-type']);
        await writeFile(`${out}/${name}-pdf-${paper}.pdf`, await r.body());
      }
    }
  }
} finally { await browser.close(); await demo.stop(); }
