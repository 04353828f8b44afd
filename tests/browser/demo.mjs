// Starts the demo in a folder of its own, and a Chromium; the browser tests stand on both.
import { execFile, spawn } from 'node:child_process';
import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { chromium } from 'playwright-core';

const PROGRAM = new URL('../../target/debug/baywitness', import.meta.url).pathname;
const CHROMIUM = process.env.CHROMIUM ?? '/usr/bin/chromium';
const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
  '--disable-component-update', '--disable-sync'];

/** Sizes of the screens that the pages are made for. */
export const SCREENS = {
  landscape: { width: 1180, height: 820 },
  portrait: { width: 820, height: 1180 },
  phone: { width: 390, height: 844 },
};

/** A process of the program in this data folder; answers once it has printed `ready`, with what it printed. */
async function run(command, data, address, ready) {
  const child = spawn(PROGRAM, [command], {
    env: { ...process.env, BAYWITNESS_DATA: data, BAYWITNESS_ADDRESS: address, DATABASE_URL: '' },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const said = { child, out: '', log: '' };
  child.stderr.on('data', (bytes) => { said.log += bytes; });
  await new Promise((resolve, reject) => {
    const late = setTimeout(() => reject(new Error(`${command} does not start: ${said.out}${said.log}`)), 60_000);
    child.once('exit', (code) => reject(new Error(`${command} ended with ${code}: ${said.log}`)));
    child.stdout.on('data', (bytes) => {
      said.out += bytes;
      if (ready.test(said.out)) { clearTimeout(late); resolve(undefined); }
    });
  });
  child.removeAllListeners('exit');
  return said;
}

/** Ends a process and waits until it is gone. */
async function end(child, signal) {
  const gone = new Promise((resolve) => child.once('exit', resolve));
  child.kill(signal);
  await gone;
}

/** Serves from a data folder of its own until `stop` is called. */
async function start(command, ready) {
  const data = await mkdtemp(join(tmpdir(), 'bw-browser-'));
  // As root the database runs as another account, which must be able to pass through.
  await chmod(data, 0o711);
  let said = await run(command, data, '127.0.0.1:0', ready);
  const { out } = said;
  const address = /http:\/\/localhost:\d+/.exec(out)?.[0] ?? '';
  return {
    address,
    data,
    out,
    log: () => said.log,
    /** Kills the service where it stands; its database server is left behind. */
    die: () => end(said.child, 'SIGKILL'),
    /** Serves again from the same data, at the same address. */
    async again() {
      const kept = command === 'demo' ? join(data, 'demo') : data;
      said = await run('serve', kept, `127.0.0.1:${new URL(address).port}`, /serves at/);
    },
    async stop() {
      await end(said.child, 'SIGTERM');
      await rm(data, { recursive: true, force: true });
    },
  };
}

/** Serves the demo until `stop` is called; answers what it printed. */
export async function startDemo() {
  const { out, ...served } = await start('demo', /Stop with/);
  const signIns = Object.fromEntries([...out.matchAll(/^\s+(\w+)@sable-quay\s+(\S+)/gm)].map(([, name, word]) => [name, word]));
  const links = [...out.matchAll(/: code (\S+)\n\s+(\S+)/g)].map(([, code, link]) => ({ code, link }));
  return { ...served, signIns, links };
}

/** Serves an installation without any centre; answers the code with which the first is begun. */
export async function startEmpty() {
  const { out, ...served } = await start('serve', /with this code.*: \S+\n/);
  const codeIn = (text) => /with this code.*: (\S+)/.exec(text)?.[1] ?? '';
  return {
    ...served,
    code: codeIn(out),
    /** Asks the shell for the code with which another centre is begun. */
    async anotherCode() {
      const env = { ...process.env, BAYWITNESS_DATA: served.data, DATABASE_URL: '' };
      return codeIn((await promisify(execFile)(PROGRAM, ['centre', 'add'], { env })).stdout);
    },
  };
}

/** A new Chromium. */
export function startBrowser() {
  return chromium.launch({ executablePath: CHROMIUM, args: FLAGS });
}

/** A Chromium whose profile stays on the disk, so that it can be killed and started again. */
export function startKept(profile, viewport) {
  return chromium.launchPersistentContext(profile, { executablePath: CHROMIUM, args: FLAGS, viewport, hasTouch: true });
}

/** Signs in as a member of the demo's staff. */
export async function signIn(page, demo, name) {
  await page.goto(`${demo.address}/sign-in`);
  await page.getByLabel('Sign-in name').fill(`${name}@sable-quay`);
  await page.getByLabel('Password').fill(demo.signIns[name]);
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.waitForURL(`${demo.address}/`);
}

/** A page under a finger, and what the browser complains about; answers that are meant to be errors can be allowed for. */
export async function openPage(browser, viewport, more = {}, meant = /(?!)/) {
  const context = await browser.newContext({ viewport, hasTouch: true, ...more });
  const page = await context.newPage();
  page.setDefaultTimeout(10_000);
  const complaints = [];
  page.on('console', (message) => { if (message.type() === 'error' && !meant.test(message.text())) complaints.push(message.text()); });
  page.on('pageerror', (error) => complaints.push(String(error)));
  return { context, page, complaints };
}
