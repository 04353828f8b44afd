// @ts-check
/// <reference lib="webworker" />
/**
 * Opens the marking page without a network: it keeps the empty page and its files, nothing about anybody, and sends
 * nothing. VERSION and FILES are written before this text by the service.
 */

{
  const worker = /** @type {ServiceWorkerGlobalScope & { VERSION: string, FILES: string[] }} */ (/** @type {unknown} */ (self));
  const { VERSION, FILES } = worker;
  const SHELL = "/marking/shell";
  const NAME = `marking-${VERSION}`;
  const MARKING = /^\/sessions\/[0-9a-f-]{36}\/marking$/;
  /** After this long the tablet's own copy is better than waiting. */
  const PATIENCE_MS = 3_000;

  worker.addEventListener("install", (event) => {
    event.waitUntil(caches.open(NAME).then((cache) => cache.addAll([SHELL, ...FILES])));
  });

  // A first version takes its page at once; a later one waits until the assessor agrees.
  worker.addEventListener("activate", (event) => {
    const others = caches.keys().then((names) => names.filter((name) => name.startsWith("marking-") && name !== NAME));
    event.waitUntil(others.then((names) => Promise.all(names.map((name) => caches.delete(name)))).then(() => worker.clients.claim()));
  });

  worker.addEventListener("message", (event) => {
    if (event.data === "take over") worker.skipWaiting();
  });

  worker.addEventListener("fetch", (event) => {
    const { request } = event;
    const { pathname, origin } = new URL(request.url);
    if (request.method !== "GET" || origin !== worker.location.origin) return;
    if (FILES.includes(pathname)) event.respondWith(caches.match(request).then((kept) => kept ?? fetch(request)));
    else if (request.mode === "navigate" && MARKING.test(pathname)) event.respondWith(page(request));
  });

  /** The page from the service, or the empty one that fills itself from the tablet. @param {Request} request */
  async function page(request) {
    try {
      const answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
      if (answer.status < 500) return answer;
      return (await caches.match(SHELL)) ?? answer;
    } catch {
      return (await caches.match(SHELL)) ?? Response.error();
    }
  }
}
