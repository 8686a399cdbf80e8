/** Requests exactly as they are written, past every client that would put them right. */
import { randomUUID } from 'node:crypto';
import http from 'node:http';
import { expectPromised } from './contract.ts';
import type { Answer, TestService } from './service.ts';

/** As operations, at every site. The answer is held against the contract like any other. */
export function askRaw(
  service: TestService,
  method: string,
  path: string,
  headers: Readonly<Record<string, string>> = {},
  body?: string | Buffer,
): Promise<Answer> {
  const { hostname, port } = new URL(service.url);
  const grants = [{ role: 'operations', siteId: null }];
  const actor = { groupId: service.groupId, kind: 'person' as const, actorId: randomUUID(), grants };
  const authorization = `Bearer ${service.tokens.sign(actor, service.clock.nowMs())}`;
  const options = { hostname, port, method, path, headers: { authorization, ...headers } };
  return new Promise((resolve, reject) => {
    const request = http.request(options, (response) => {
      const chunks: Buffer[] = [];
      response.on('data', (chunk: Buffer) => chunks.push(chunk));
      response.on('error', reject);
      response.on('end', () => {
        const raw = Buffer.concat(chunks);
        const text = raw.toString('utf8');
        const isJson = /json/.test(response.headers['content-type'] ?? '') && text !== '';
        const said = Object.fromEntries(Object.entries(response.headers).map(([name, value]) => [name, String(value)]));
        const answer = {
          status: response.statusCode ?? 0,
          headers: said,
          body: isJson ? JSON.parse(text) : undefined,
          text,
          raw,
        };
        try {
          expectPromised({ method, path, ...answer });
          resolve(answer);
        } catch (error) {
          reject(error instanceof Error ? error : new Error(String(error)));
        }
      });
    });
    request.on('error', reject);
    request.end(body);
  });
}
