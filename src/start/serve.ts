/**
 * The listening server, and how it ends without cutting anybody off.
 *
 * Refuses: an address that another program listens on, that this machine does not have, or that this user may not listen on.
 */
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { StartRefused, wordsOf } from './refused.ts';

const REQUEST_TIMEOUT_MS = 60_000;
const HEADERS_TIMEOUT_MS = 20_000;
/** Longer than the idle limit of common proxies (60 s), so that it is the proxy that ends an idle connection: common practice. */
const KEEP_ALIVE_MS = 65_000;
const SWEEP_MS = 50;

export interface Listening {
  /** as a person on this machine opens it; no slash at the end */
  readonly url: string;
  /** Takes no more connections, waits for running requests up to `limitMs`, then cuts off what is left. */
  drain(limitMs: number): Promise<void>;
}

type Handler = (req: IncomingMessage, res: ServerResponse) => void;

/** `port` 0 takes any free one. */
export async function listen(handler: Handler, { host, port }: { host: string; port: number }): Promise<Listening> {
  let running = 0;
  let draining = false;
  const server = createServer(
    { requestTimeout: REQUEST_TIMEOUT_MS, headersTimeout: HEADERS_TIMEOUT_MS, keepAliveTimeout: KEEP_ALIVE_MS },
    (req, res) => {
      running += 1;
      res.once('close', () => (running -= 1));
      if (draining) res.setHeader('Connection', 'close');
      handler(req, res);
    },
  );
  await new Promise<void>((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => reject(refusalOf(error, host, port)));
    server.listen(port, host, resolve);
  });
  const address = server.address() as AddressInfo;

  return {
    url: `http://${shownHost(host)}:${address.port}`,
    async drain(limitMs) {
      draining = true;
      const closed = new Promise<void>((resolve) => server.close(() => resolve()));
      const sweep = setInterval(() => {
        // A connection that has not asked anything yet counts as busy in node; with no request running there is nothing to wait for.
        if (running === 0) server.closeAllConnections();
        else server.closeIdleConnections();
      }, SWEEP_MS);
      const limit = setTimeout(() => server.closeAllConnections(), limitMs);
      await closed;
      clearInterval(sweep);
      clearTimeout(limit);
    },
  };
}

function refusalOf(error: NodeJS.ErrnoException, host: string, port: number): StartRefused {
  const at = `${host}:${port}`;
  switch (error.code) {
    case 'EADDRINUSE':
      return new StartRefused(`Another program listens on ${at}; stop it, or set PORT to another number.`);
    case 'EACCES':
      return new StartRefused(`This user may not listen on ${at}; set PORT to a number above 1023.`);
    case 'EADDRNOTAVAIL':
    case 'ENOTFOUND':
      return new StartRefused(`This machine has no address ${host}; set HOST to one that it has.`);
    default:
      return new StartRefused(`Cannot listen on ${at}: ${wordsOf(error)}`);
  }
}

/** The address to open for the address that is listened on: "any" is no address to go to. */
export function shownHost(host: string): string {
  if (host === '0.0.0.0' || host === '::') return 'localhost';
  return host.includes(':') ? `[${host}]` : host;
}
