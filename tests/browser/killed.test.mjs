// Browser and service die at random moments of a flush: what was saved on the tablet is on the tablet or with the service.
import assert from 'node:assert/strict';
import { createHash } from 'node:crypto';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { empty, kill, many, openBay, outbox, plan, ready, saved, says, sql, tap } from './bench.mjs';
import { SCREENS, signIn, startDemo, startKept } from './demo.mjs';
import { startProxy } from './proxy.mjs';

const ROUNDS = 50;
/** Taps a round; about three go into one request, so that a flush has several. */
const TAPS = 6;
const LARGEST_BODY = 1_200;
/** How long a request takes on the way there and back: it makes all parts of a flush about as long. */
const SLOW_MS = 12;

let demo;
let proxy;
let profile;
let signedIn;

before(async () => {
  demo = await startDemo();
  proxy = await startProxy(demo.address);
  profile = await mkdtemp(join(tmpdir(), 'bw-profile-'));
});

after(async () => {
  if (profile !== undefined) {
    await kill(profile);
    await rm(profile, { recursive: true, force: true, maxRetries: 5 });
  }
  await proxy?.stop();
  await demo?.stop();
});

/** Numbers from 0 to 1 that a seed repeats (mulberry32, from memory). */
function random(seed) {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

/** The kept browser with a page on which nothing runs but what a test asks it. */
async function openBrowser() {
  const context = await startKept(profile, SCREENS.landscape);
  if (signedIn !== undefined) await context.addCookies(signedIn.cookies);
  const page = await context.newPage();
  page.setDefaultTimeout(10_000);
  return { context, page };
}

/** The same, or a failure that names what took too long. */
async function within(ms, what, done) {
  let timer;
  const late = new Promise((_, reject) => { timer = setTimeout(() => reject(new Error(`${what} took over ${ms} ms`)), ms); });
  try {
    return await Promise.race([done, late]);
  } finally {
    clearTimeout(timer);
  }
}

/**
 * The browser after its death, on a page of the service without a script, from which nothing is sent, and what waits on the
 * tablet. A browser that was just killed sometimes does not come to life again, as if its storage were still held: then it
 * is killed once more, which may cost nothing either.
 */
async function wake(stuck) {
  for (let tries = 1; ; tries += 1) {
    try {
      return await within(20_000, 'waking the browser', (async () => {
        const { context, page } = await openBrowser();
        await page.goto(`${proxy.address}/health`);
        return { context, page, rows: await outbox(page) };
      })());
    } catch (why) {
      if (tries === 3) throw why;
      stuck.push(String(why));
      await kill(profile);
    }
  }
}

/** Observations go nowhere; pages come through. */
const hold = () => proxy.rule((request) => (request.url.endsWith('/entries') ? { drop: true } : null));

/** Observations go through, a few at a time and not at once. */
const letGo = () => proxy.rule((request, body) => {
  if (!request.url.endsWith('/entries')) return null;
  return body.length > LARGEST_BODY ? { status: 413 } : { slow: SLOW_MS };
});

/** The session's entries, as the database has them. */
function entries(id) {
  const rows = sql(demo, `SELECT coalesce(json_agg(json_build_object('n', n, 'id', entry_id, 'kind', kind, 'line', line, 'head', head) ORDER BY n), '[]')
    FROM entries WHERE session_id = '${id}'`);
  return JSON.parse(rows);
}

const digest = (text) => createHash('sha256').update(text, 'utf8').digest('hex');

/** The chain, computed anew with node's SHA-256 over the lines: numbers without a gap, each hash over the one before it. */
function chainIsWhole(id, rows) {
  let head = digest(`baywitness-log/1\n${id}\n`);
  rows.forEach((row, at) => {
    assert.equal(row.n, at + 1);
    head = digest(`${head}\n${row.line}\n`);
    assert.equal(row.head, head, `entry ${row.n}`);
  });
  assert.equal(sql(demo, `SELECT count || ' ' || head FROM sessions WHERE session_id = '${id}'`), `${rows.length} ${head}`);
}

/** The judge: what was made and is neither on the tablet nor with the service. */
const lost = (made, waiting, stored) => [...made].filter((id) => !waiting.has(id) && !stored.has(id));

/** Ids that left the browser, as the proxy saw them, from the `from`th request on. */
function sentSince(from) {
  const bodies = proxy.seen.slice(from).filter((one) => one.path.endsWith('/entries') && one.bytes <= LARGEST_BODY);
  return new Set(bodies.flatMap((one) => JSON.parse(one.body).observations.map((seen) => seen.id)));
}

const flush = (page) => page.evaluate(() => { dispatchEvent(new Event('online')); });

test('S1: 50 deaths of browser, service or both in the middle of a flush: tablet and service together have all', { timeout: 240_000 }, async (t) => {
  const seed = Number(process.env.BAYWITNESS_SEED ?? Date.now() % 1e6);
  t.diagnostic(`seed ${seed} (BAYWITNESS_SEED)`);
  const next = random(seed);
  const began = Date.now();
  let { context, page } = await openBrowser();
  await signIn(page, { ...demo, address: proxy.address }, 'ines');
  signedIn = await context.storageState();
  const id = plan(demo, 'stairwell');
  await openBay(page, proxy.address, id);
  await tap(page, 'Start');
  await saved(page);
  const made = new Set(entries(id).filter((row) => row.kind === 'observation').map((row) => row.id));
  assert.equal(made.size, 1);

  /** Queues taps while nothing gets out; answers how many wait. */
  const queue = async () => {
    const before = (await within(10_000, 'reading the tablet before a round', outbox(page))).length;
    await within(10_000, 'tapping', many(page, TAPS));
    await says(page, new RegExp(`(^|\\D)${before + TAPS} saved on tablet`));
    const rows = await outbox(page);
    assert.equal(rows.length, before + TAPS);
    for (const row of rows) made.add(row.id);
  };

  // How long a flush takes when nobody dies: deaths fall anywhere in that time.
  hold();
  await queue();
  letGo();
  const from = Date.now();
  await flush(page);
  await saved(page);
  const lasts = Date.now() - from;

  /** Why the browser had to be killed once more. */
  const stuck = [];
  const deaths = { browser: 0, service: 0, both: 0 };
  const died = { before: 0, between: 0, unheard: 0, after: 0 };
  let brokenLoses = 0;
  for (let round = 0; round < ROUNDS; round += 1) {
    hold();
    await queue();
    const victim = ['browser', 'service', 'both'][Math.floor(next() * 3)];
    const moment = next() * lasts;
    const first = proxy.seen.length;
    letGo();
    flush(page).catch(() => undefined);
    await new Promise((resolve) => setTimeout(resolve, moment));
    const ends = [];
    if (victim !== 'service') ends.push(kill(profile));
    if (victim !== 'browser') ends.push(demo.die());
    await Promise.all(ends);
    hold();
    await within(10_000, 'the service’s last answer', proxy.quiet());
    deaths[victim] += 1;
    if (victim !== 'browser') await demo.again();
    // First the tablet, then the service: what is on its way between them is counted, never missed.
    let rows;
    if (victim === 'service') rows = await within(10_000, 'reading the tablet', outbox(page));
    else ({ context, page, rows } = await wake(stuck));
    const there = entries(id);
    const waiting = new Set(rows.map((row) => row.id));
    const observed = there.filter((row) => row.kind === 'observation').map((row) => row.id);
    const stored = new Set(observed);
    const where = `round ${round + 1}, ${victim} after ${moment.toFixed(0)} ms`;
    assert.deepEqual(lost(made, waiting, stored), [], where);
    assert.equal(stored.size, observed.length, `${where}: doubled`);
    assert.deepEqual([...waiting, ...stored].filter((one) => !made.has(one)), [], `${where}: nobody made these`);
    assert.ok(rows.every((row) => row.trouble === null), `${where}: ${JSON.stringify(rows)}`);
    chainIsWhole(id, there);

    const sent = sentSince(first);
    const unstored = [...sent].filter((one) => waiting.has(one) && !stored.has(one)).length;
    const unheard = [...sent].filter((one) => waiting.has(one) && stored.has(one)).length;
    died[sent.size === 0 ? 'before' : unstored > 0 ? 'between' : unheard > 0 ? 'unheard' : 'after'] += 1;
    // The control: the same judge over a tablet that had let go of each row when it sent it.
    if (lost(made, new Set([...waiting].filter((one) => !sent.has(one))), stored).length > 0) brokenLoses += 1;

    if (victim !== 'service') {
      await page.goto(`${proxy.address}/sessions/${id}/marking`);
      await ready(page);
    }
  }
  proxy.rule(null);
  await flush(page);
  await saved(page, 20_000);
  await empty(page);
  const all = entries(id);
  const observed = all.filter((row) => row.kind === 'observation');
  assert.deepEqual(observed.map((row) => row.id).sort(), [...made].sort());
  const numbers = observed.map((row) => JSON.parse(row.line).seq).sort((a, b) => a - b);
  assert.deepEqual(numbers, numbers.map((_, at) => at + 1));
  chainIsWhole(id, all);
  t.diagnostic(`${ROUNDS} deaths (${JSON.stringify(deaths)}) in flushes of ${lasts} ms; died ${JSON.stringify(died)}; ${made.size} observations, none lost, none doubled; stuck ${JSON.stringify(stuck)}; ${Math.round((Date.now() - began) / 1000)} s`);
  assert.equal(deaths.browser + deaths.service + deaths.both, ROUNDS);
  assert.ok(died.between >= 1, 'some must die between sending and storing, or this shows nothing');
  assert.ok(died.unheard >= 1, 'some must die between storing and hearing of it');
  assert.ok(brokenLoses >= died.between, 'the judge sees the loss of a tablet that lets go when it sends');
  await context.close();
});
