// Starts the demo in a folder of its own, and a Chromium; the browser tests stand on both.
import { spawn } from 'node:child_process';
import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
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

/** A process of the program; answers once it has said `ready`, with what it printed. */
async function start(command, env, ready) {
  const child = spawn(PROGRAM, [command], { env: { ...process.env, DATABASE_URL: '', ...env }, stdio: ['ignore', 'pipe', 'pipe'] });
  const said = { child, out: '', log: '' };
  child.stderr.on('data', (bytes) => { said.log += bytes; });
  await new Promise((resolve, reject) => {
    const late = setTimeout(() => reject(new Error(`${command} does not start: ${said.out}${said.log}`)), 60_000);
    child.once('exit', (code) => reject(new Error(`${command} ended with ${code}: ${said.log}`)));
    child.stdout.on('data', (bytes) => {
      said.out += bytes;
      if (said.out.includes(ready)) { clearTimeout(late); resolve(undefined); }
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

/** Serves the demo until `stop` is called; answers what it printed. */
export async function startDemo() {
  const data = await mkdtemp(join(tmpdir(), 'bw-browser-'));
  // As root the database runs as another account, which must be able to pass through.
  await chmod(data, 0o711);
  let said = await start('demo', { BAYWITNESS_DATA: data, BAYWITNESS_ADDRESS: '127.0.0.1:0' }, 'Stop with');
  const { out } = said;
  const address = /http:\/\/localhost:\d+/.exec(out)?.[0] ?? '';
  const signIns = Object.fromEntries([...out.matchAll(/^\s+(\w+)@sable-quay\s+(\S+)/gm)].map(([, name, word]) => [name, word]));
  const links = [...out.matchAll(/: code (\S+)\n\s+(\S+)/g)].map(([, code, link]) => ({ code, link }));
  return {
    address,
    data,
    signIns,
    links,
    log: () => said.log,
    /** Kills the service where it stands; its database server is left behind. */
    die: () => end(said.child, 'SIGKILL'),
    /** Serves again from the same data folder, at the same address. */
    async again() {
      said = await start('serve', { BAYWITNESS_DATA: join(data, 'demo'), BAYWITNESS_ADDRESS: `127.0.0.1:${new URL(address).port}` }, 'serves at');
    },
    async stop() {
      await end(said.child, 'SIGTERM');
      await rm(data, { recursive: true, force: true });
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
