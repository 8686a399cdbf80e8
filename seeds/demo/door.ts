/**
 * The demo's way into the service: its operations over HTTP on a port of its own, at a clock that the story sets. Every fact goes in
 * through the same commands as anybody's; one that is there already answers what it answered the first time.
 */
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { createApp } from '../../src/app.ts';
import type { Tokens } from '../../src/platform/auth/tokens.ts';
import type { Db } from '../../src/platform/db/db.ts';
import { exampleId, randomIds } from '../../src/platform/ids.ts';
import { createLog } from '../../src/platform/log.ts';
import { tryOutActor } from '../../src/start/try-out.ts';

/** Who does something: `person/kitchen` or `device/w3-scanner`, in a role. */
export interface Who {
  readonly name: string;
  readonly role: string;
  /** example name of a site; every site if left out */
  readonly site?: string;
}

/** Of a case's account: what a site has to answer for. */
interface AccountSite {
  readonly siteId: string;
  readonly lines: readonly { readonly lotId: string; readonly unit: string; readonly open: number }[];
}

/** What the demo reads in answers. */
export interface Answer {
  readonly occurredAt?: string;
  readonly code?: string;
  readonly lots?: readonly { lotId: string; lotCode: string; packingRunId: string | null; loadNo: number | null }[];
  readonly sites?: readonly AccountSite[];
  readonly results?: readonly { status: string; problem: unknown }[];
}

export interface Door {
  /** Records a fact by its example name, at the door's time. @throws Error unless it is accepted */
  post(who: Who, path: string, name: string, fields: object): Promise<Answer>;
  scan(who: Who, siteId: string, scans: readonly object[]): Promise<Answer>;
  /** Enters what was written on paper; the lines name their facts by their ids. */
  paper(who: Who, lines: readonly object[]): Promise<Answer>;
  /** Sends CSV. @throws Error unless all of it is taken */
  send(who: Who, path: string, csv: string, key?: string): Promise<void>;
  /** Hands in an EPCIS document under a name. @throws Error unless all of it is valid */
  capture(who: Who, captureId: string, document: object): Promise<void>;
  /** null when there is no such thing */
  find(who: Who, path: string): Promise<Answer | null>;
  setTime(instant: string): void;
  close(): Promise<void>;
}

export const as = (role: string, site?: string): Who => ({
  name: role === 'device' ? 'device/w3-scanner' : `person/${role}`,
  role,
  ...(site !== undefined && { site }),
});

export async function openDoor(parts: { db: Db; tokens: Tokens; nowMs: number }): Promise<Door> {
  let nowMs = parts.nowMs;
  const app = createApp({
    db: parts.db,
    clock: { nowMs: () => nowMs },
    ids: randomIds,
    tokens: parts.tokens,
    log: createLog('error'),
  });
  const server = createServer(app);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;

  async function call(
    who: Who,
    path: string,
    body?: object | string,
    headers: Readonly<Record<string, string>> = { 'content-type': 'application/json' },
  ): Promise<{ status: number; text: string }> {
    const siteId = who.site === undefined ? null : exampleId(who.site);
    const actor = { ...tryOutActor(who.role, siteId), actorId: exampleId(who.name) };
    const response = await fetch(url + path, {
      method: body === undefined ? 'GET' : 'POST',
      headers: {
        authorization: `Bearer ${parts.tokens.sign(actor, nowMs)}`,
        ...(body !== undefined && headers),
      },
      ...(body !== undefined && { body: typeof body === 'string' ? body : JSON.stringify(body) }),
    });
    return { status: response.status, text: await response.text() };
  }

  return {
    async post(who, path, name, fields) {
      const { status, text } = await call(who, path, { id: exampleId(name), ...fields });
      if (status !== 201) throw new Error(`${name} (${path}) answered ${status}: ${text}`);
      return JSON.parse(text) as Answer;
    },
    async scan(who, siteId, scans) {
      const { status, text } = await call(who, '/v1/scans', { siteId, scans });
      if (status !== 207) throw new Error(`scans answered ${status}: ${text}`);
      const answer = JSON.parse(text) as Answer;
      const bad = answer.results?.find((result) => result.problem !== null);
      if (bad !== undefined) throw new Error(`a scan was refused: ${JSON.stringify(bad)}`);
      return answer;
    },
    async paper(who, lines) {
      const { status, text } = await call(who, '/v1/paper-entries', { lines });
      if (status !== 207) throw new Error(`the paper night answered ${status}: ${text}`);
      const answer = JSON.parse(text) as Answer;
      const bad = answer.results?.find((result) => result.problem !== null);
      if (bad !== undefined) throw new Error(`a line of the paper night was refused: ${JSON.stringify(bad)}`);
      return answer;
    },
    async send(who, path, csv, key) {
      const headers = { 'content-type': 'text/csv', ...(key !== undefined && { 'idempotency-key': key }) };
      const { status, text } = await call(who, path, csv, headers);
      const refused = (JSON.parse(text) as { refused?: number }).refused;
      if (status >= 300 || refused !== 0) throw new Error(`${path} answered ${status}: ${text.slice(0, 1000)}`);
    },
    async capture(who, captureId, document) {
      const headers = { 'content-type': 'application/ld+json', 'idempotency-key': captureId };
      const { status, text } = await call(who, '/v1/epcis/capture', document, headers);
      const { success } = JSON.parse(text) as { success?: boolean };
      if (status !== 202 || success !== true) throw new Error(`the capture answered ${status}: ${text.slice(0, 1000)}`);
    },
    async find(who, path) {
      const { status, text } = await call(who, path);
      if (status === 404) return null;
      if (status !== 200) throw new Error(`${path} answered ${status}: ${text}`);
      return JSON.parse(text) as Answer;
    },
    setTime(instant) {
      nowMs = Date.parse(instant);
    },
    async close() {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}
