// A small proxy between browser and service: it can be cut, swallow everything, lose answers and give answers of its own.
import http from 'node:http';

/**
 * Starts a proxy in front of a service.
 * @param {string} target such as http://localhost:8466
 */
export async function startProxy(target) {
  const upstream = new URL(target);
  const sockets = new Set();
  const state = { mode: 'pass', rule: null, seen: [] };
  const server = http.createServer(async (request, response) => {
    const body = await all(request);
    state.seen.push({ method: request.method, path: request.url, bytes: body.length, body: body.toString() });
    if (state.mode === 'hole') return;
    const own = state.rule?.(request, body) ?? null;
    if (own?.status) return void response.writeHead(own.status, own.headers ?? {}).end(own.body ?? '{}');
    const forward = http.request({ host: '127.0.0.1', port: upstream.port, method: request.method, path: request.url, headers: request.headers });
    forward.on('response', async (answer) => {
      const bytes = await all(answer);
      // The service has done its work, but nobody hears of it.
      if (own?.lose || state.mode !== 'pass') return void request.socket.destroy();
      state.seen.at(-1).answered = answer.statusCode;
      response.writeHead(answer.statusCode, answer.headers).end(bytes);
    });
    forward.on('error', () => request.socket.destroy());
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
    /** Answers of its own: `{ status, headers?, body? }`, `{ lose: true }` or nothing. */
    rule(rule) { state.rule = rule; },
    async stop() { hangUp(); server.close(); },
  };
}

async function all(stream) {
  const parts = [];
  for await (const part of stream) parts.push(part);
  return Buffer.concat(parts);
}
