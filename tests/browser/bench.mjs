// What the tests of the marking page share: sessions of their own, taps by touch, and reading the log back.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { readFile, readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { test as plain } from 'node:test';

/** A test that hangs is a test that fails. */
export const test = (name, body) => plain(name, { timeout: 90_000 }, body);

/** Runs SQL as the owner of the demo's private cluster. */
export function sql(demo, text) {
  const asked = ['-h', join(demo.data, 'demo', 'socket'), '-U', 'baywitness_owner', '-d', 'baywitness', '-XAtq', '-v', 'ON_ERROR_STOP=1', '-c', text];
  return execFileSync('psql', asked, { encoding: 'utf8' }).trim();
}

/** Plans one more session of a task for an assessor, by staff number, and answers its id. */
export function plan(demo, title, assessor = 1) {
  const id = crypto.randomUUID();
  sql(demo, `INSERT INTO sessions (centre_id, session_id, task_id, task_version, candidate_id, assessor, bay, planned_at, extra_percent, extra_minutes, head)
    SELECT t.centre_id, '${id}', t.task_id, t.version, (SELECT candidate_id FROM candidates WHERE reference = 'SQ-1044'), ${assessor}, 'Bay 2', now(), 25, 0,
      encode(sha256(convert_to('baywitness-log/1' || E'\\n' || '${id}' || E'\\n', 'UTF8')), 'hex')
    FROM tasks t WHERE t.title ILIKE '%${title}%'`);
  return id;
}

/** Confirms the bay check of a session, by the pages. */
export async function openBay(page, address, id) {
  await page.goto(`${address}/sessions/${id}`);
  for (const box of await page.getByRole('checkbox').all()) await box.check();
  await page.getByRole('radio').first().check();
  await page.getByRole('button', { name: 'Open the marking page' }).click();
  await page.waitForURL(/\/marking$/);
  await ready(page);
}

/** Waits until the page's script has taken over. */
export async function ready(page) {
  await page.locator('#sync-says').waitFor({ state: 'attached' });
  await page.locator('.fixed #history').waitFor();
}

/** Taps by touch what bears this name, in the middle. */
export async function tap(page, name) {
  const target = typeof name === 'string' && /^[#.]/.test(name) ? page.locator(name) : page.getByRole('button', { name }).first();
  await target.tap({ timeout: 5_000 });
}

/** Waits until the tablet says that the service has everything. */
export async function saved(page, within = 10_000) {
  await page.waitForFunction(() => /all saved/.test(document.getElementById('sync-says')?.textContent ?? ''), undefined, { timeout: within });
}

/** What the line about saving says. */
export const sync = (page) => page.locator('#sync-says').textContent();

/** Waits for words in the line about saving. */
export async function says(page, words, within = 10_000) {
  await page.waitForFunction((source) => new RegExp(source).test(document.getElementById('sync-says')?.textContent ?? ''), words.source, { timeout: within });
}

/** The marker's log as the service has it. */
export async function logOf(page, address, id) {
  const answer = await page.request.get(`${address}/sessions/${id}/marking`);
  assert.equal(answer.status(), 200);
  const html = await answer.text();
  const log = / data-log="([^"]*)"/.exec(html)[1];
  return JSON.parse(log.replaceAll(/&#(\d+);/g, (_, code) => String.fromCodePoint(Number(code))));
}

/** Ids that wait on the tablet. */
export function outbox(page) {
  return page.evaluate(() => new Promise((resolve, reject) => {
    const asked = indexedDB.open('baywitness');
    asked.onerror = () => reject(asked.error);
    asked.onblocked = () => reject(new Error('the storage is held by another page'));
    asked.onsuccess = () => {
      // Else what is thrown here would be heard by nobody, and the test would wait for ever.
      const names = [...asked.result.objectStoreNames];
      if (!names.includes('outbox')) return void reject(new Error(`no outbox on the tablet, only ${JSON.stringify(names)}`));
      const all = asked.result.transaction('outbox').objectStore('outbox').getAll();
      all.onerror = () => reject(all.error);
      all.onsuccess = () => { asked.result.close(); resolve(all.result.map((row) => ({ id: row.id, seq: row.seq, trouble: row.trouble }))); };
    };
  }));
}

/** Everything that the tablet keeps, as text. */
export function allKept(page) {
  return page.evaluate(async () => {
    const db = await new Promise((resolve) => { const asked = indexedDB.open('baywitness'); asked.onsuccess = () => resolve(asked.result); });
    const parts = [];
    for (const name of db.objectStoreNames) parts.push(await new Promise((resolve) => {
      const all = db.transaction(name).objectStore(name).getAll();
      all.onsuccess = () => resolve(JSON.stringify(all.result));
    }));
    db.close();
    for (const name of await caches.keys()) {
      const cache = await caches.open(name);
      for (const key of await cache.keys()) parts.push(key.url, await (await cache.match(key)).text());
    }
    return parts.join('\n');
  });
}

/** The flawless single-phase lighting task of three switches, as taps. With `closed`, the point is closed between rounds. */
export function flawless(closed) {
  const pairs = ['E then N', 'E then SL', 'N then SL'];
  const round = closed ? [...pairs, 'Closes point'] : pairs;
  const testing = ['S1', 'S2', 'S3'].flatMap((one) => [
    new RegExp(`^${one} `), ...(closed ? ['Opens point'] : []), ...(one === 'S3' ? pairs : round),
  ]);
  return [
    'Start', 'Finds circuit', 'Asks leave', /^Two-pole indicator, yellow/, 'Looks over', /^Proving unit/, /^Clip for a one-pole/, /^Padlock 7/,
    /^Do not switch on/, /^Q2 /, 'Fits lock-off', 'Locks', 'Hangs notice', 'Key kept', 'Proves', 'Opens point', 'Lamp out',
    ...round, ...testing, 'Proves', 'Declares', 'End',
  ];
}

/** Many taps on tiles that change nothing about each other, as fast as they come. */
export async function many(page, count) {
  const spots = [];
  for (const selector of ['#p1a', '#p2a', '#p3a', '#p1b', '#p2b', '#p3b']) {
    const { x, y, width, height } = await page.locator(selector).boundingBox();
    spots.push([x + width / 2, y + height / 2]);
  }
  for (let at = 0; at < count; at += 1) await page.touchscreen.tap(...spots[at % spots.length]);
}

/** Nothing waits on the disk either, at the latest when the page has looked around. */
export async function empty(page) {
  for (let tries = 0; tries < 50 && (await outbox(page)).length > 0; tries += 1) await page.waitForTimeout(100);
  assert.deepEqual(await outbox(page), []);
}

/** Kills the browser of a kept profile, by the ids of its processes. */
export async function kill(profile) {
  for (const pid of (await readdir('/proc')).filter((name) => /^\d+$/.test(name))) {
    const line = await readFile(`/proc/${pid}/cmdline`, 'utf8').catch(() => '');
    if (line.includes(profile) && line.includes('chrom')) try { process.kill(Number(pid), 'SIGKILL'); } catch { /* it is gone already */ }
  }
}

/** Sessions of which the tablet keeps what opens their page without a network, as `id,staff`. */
export function keptPages(page) {
  return page.evaluate(() => new Promise((resolve, reject) => {
    const asked = indexedDB.open('baywitness');
    asked.onerror = () => reject(asked.error);
    asked.onsuccess = () => {
      const all = asked.result.transaction('sessions').objectStore('sessions').getAllKeys();
      all.onsuccess = () => { asked.result.close(); resolve(all.result.map(String)); };
    };
  }));
}

/** Decides whatever needs it and signs, on the pages. */
export async function decideAndSign(page, address, id, password) {
  await page.goto(`${address}/sessions/${id}/decide`);
  const needed = page.locator('article', { hasText: 'needs you' });
  for (let left = await needed.count(); left > 0; left -= 1) {
    await needed.first().getByRole('button', { name: /^(Confirm: not met|\W*Met)$/ }).click();
    await page.waitForLoadState();
  }
  await page.getByLabel(/^Password of/).fill(password);
  await page.getByRole('button', { name: 'Sign the result' }).click();
  await page.getByRole('heading', { name: /^Signed/ }).waitFor();
}
