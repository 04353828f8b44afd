// A small proxy between browser and service: it can be cut, swallow everything, lose answers and give answers of its own.
import http from 'node:http';

/**
 * Starts a proxy in front of a service.
 * @param {string} target such as http://localhost:8466
 */
export async function startProxy(target) {
  const upstream = new URL(target);
  const sockets = new Set();
  const state = { mode: 'pass', rule: null, seen: [], open: 0 };
  const pause = (ms) => (ms > 0 ? new Promise((resolve) => setTimeout(resolve, ms)) : undefined);
  const server = http.createServer(async (request, response) => {
    const body = await all(request).catch(() => null);
    if (body === null) return;
    const seen = { method: request.method, path: request.url, bytes: body.length, body: body.toString() };
    state.seen.push(seen);
    if (state.mode === 'hole') return;
    const own = state.rule?.(request, body) ?? null;
    if (own?.drop) return void request.socket.destroy();
    if (own?.status) return void response.writeHead(own.status, own.headers ?? {}).end(own.body ?? '{}');
    state.open += 1;
    const over = once(() => { state.open -= 1; });
    await pause(own?.slow);
    const forward = http.request({ host: '127.0.0.1', port: upstream.port, method: request.method, path: request.url, headers: request.headers });
    forward.on('response', async (answer) => {
      const bytes = await all(answer).catch(() => null);
      over();
      if (bytes === null) return void request.socket.destroy();
      await pause(own?.slow);
      // The service has done its work, but nobody hears of it.
      if (own?.lose || state.mode !== 'pass') return void request.socket.destroy();
      seen.answered = answer.statusCode;
      response.writeHead(answer.statusCode, answer.headers).end(bytes);
    });
    forward.on('error', () => {
      over();
      request.socket.destroy();
    });
    forward.end(body);
  });
  server.on('connection', (socket) => {
    if (state.mode === 'cut') return void socket.destroy();
    sockets.add(socket);
    socket.on('close', () => sockets.delete(socket));
  });
  await new Promise((resolve) => server.listen(0, '127.0.0.1', () => resolve(undefined)));
  const { port } = server.address();
  const hangUp = () => { for (const socket of sockets) socket.destroy(); };
  return {
    address: `http://localhost:${port}`,
    /** Requests that came through, oldest first. */
    seen: state.seen,
    pass() { state.mode = 'pass'; state.rule = null; hangUp(); },
    cut() { state.mode = 'cut'; hangUp(); },
    hole() { state.mode = 'hole'; hangUp(); },
    /** What to do with a request: `{ status, headers?, body? }` answers it, `{ drop: true }` hangs up, `{ lose: true }` keeps the
     * service's answer back, `{ slow: ms }` takes its time there and back; nothing passes it on. */
    rule(rule) { state.rule = rule; },
    /** Waits until what was passed on has been answered, or has failed. */
    async quiet() { while (state.open > 0) await pause(5); },
    async stop() { hangUp(); server.close(); },
  };
}

/** What is done the first time only. */
function once(action) {
  let done = false;
  return () => {
    if (!done) action();
    done = true;
  };
}

async function all(stream) {
  const parts = [];
  for await (const part of stream) parts.push(part);
  return Buffer.concat(parts);
}
