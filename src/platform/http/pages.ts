/** What is not an operation: the front page, the contract and its reader, health, readiness, metrics, the error table. */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import path from 'node:path';
import express, { type Router } from 'express';
import { errorTable, Refused, type ErrorCode } from '../../domain/errors.ts';
import type { Db } from '../db/db.ts';
import type { Metrics } from '../metrics.ts';
import { sendProblem } from './problem.ts';

const require = createRequire(import.meta.url);
const here = import.meta.dirname;
const root = path.resolve(here, '../../..');

export interface PagesParts {
  readonly db: Db;
  readonly metrics: Metrics;
  readonly ready: () => boolean;
}

const style = `<style>
  body { font: 16px/1.5 system-ui, sans-serif; max-width: 46rem; margin: 3rem auto; padding: 0 1rem; color: #1d2a26; background: #fbfaf6 }
  h1 { font-size: 1.7rem; margin-bottom: .2rem } a { color: #0a5a44 } code { background: #eeeae0; padding: .1em .3em; border-radius: 3px }
  dt { font-weight: 600; margin-top: .8rem } dd { margin-left: 0 } .note { border-left: 4px solid #b8862b; padding: .2rem .9rem; background: #f5efdf }
</style>`;

const page = (title: string, body: string) =>
  `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>${title}</title>${style}</head><body>${body}</body></html>`;

const front = page(
  'Sealtrail',
  `<h1>Sealtrail</h1>
<p>The record of every vacuum-packed batch, from central kitchen to plate: what is in a pack, how long it may be kept, where everything is that shares its origin, and where the food went.</p>
<dl>
<dt><a href="/docs">/docs</a></dt><dd>Every operation, with examples, to read and to try.</dd>
<dt><a href="/openapi.json">/openapi.json</a></dt><dd>The same as an OpenAPI 3.1 document.</dd>
<dt><a href="/problems">/problems</a></dt><dd>Every refusal the service can give, and what to do about it.</dd>
<dt><a href="/healthz">/healthz</a>, <a href="/readyz">/readyz</a>, <a href="/metrics">/metrics</a></dt><dd>For those who run it.</dd>
</dl>
<p>The <code>/v1</code> resources need a token. On a machine of your own: <code>npm run -s token -- --role operations</code>.</p>
<p class="note">Decision support for trained staff. It never replaces the group's food-safety plan, local food law or a competent person.</p>`,
);

const docs = `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Sealtrail: operations</title>
<link rel="stylesheet" href="/docs/swagger-ui.css"></head><body><div id="ui"></div>
<script src="/docs/swagger-ui-bundle.js"></script><script src="/docs/start.js"></script></body></html>`;

const docsStart = `window.SwaggerUIBundle({ url: '/openapi.json', dom_id: '#ui', validatorUrl: null, deepLinking: true, persistAuthorization: true, docExpansion: 'none', tryItOutEnabled: true });`;

export function pages(parts: PagesParts): Router {
  const router = express.Router({ caseSensitive: true, strict: true });
  const openapi = readFileSync(path.join(root, 'openapi/openapi.json'), 'utf8');
  const swaggerDir = path.dirname(require.resolve('swagger-ui-dist/package.json'));

  router.get('/', (_req, res) => void res.type('html').send(front));
  router.get('/openapi.json', (_req, res) => void res.type('application/json').send(openapi));
  router.get('/docs', (_req, res) => void res.type('html').send(docs));
  router.get('/docs/start.js', (_req, res) => void res.type('text/javascript').send(docsStart));
  for (const file of ['swagger-ui.css', 'swagger-ui-bundle.js']) {
    router.get(`/docs/${file}`, (_req, res) => res.sendFile(path.join(swaggerDir, file)));
  }
  router.get('/problems', (_req, res) => {
    const rows = Object.entries(errorTable).map(
      ([code, kind]) =>
        `<dt id="${code}"><code>${code}</code> · ${kind.status}</dt><dd>${kind.title}. ${kind.advice}</dd>`,
    );
    res.type('html').send(page('Sealtrail: refusals', `<h1>Refusals</h1><dl>${rows.join('')}</dl>`));
  });
  router.get('/problems/:code', (req, res) => {
    if (!Object.hasOwn(errorTable, req.params.code)) {
      return sendProblem(res, new Refused('not-found', 'There is no such refusal.'), String(res.locals.requestId));
    }
    const kind = errorTable[req.params.code as ErrorCode];
    const body = `<h1>${kind.title}</h1><p><code>${req.params.code}</code> · status ${kind.status}</p><p>${kind.advice}</p><p><a href="/problems">All refusals</a></p>`;
    res.type('html').send(page(`Sealtrail: ${req.params.code}`, body));
  });
  router.get('/healthz', (_req, res) => void res.json({ status: 'alive' }));
  router.get('/readyz', async (_req, res) => {
    try {
      if (!parts.ready()) throw new Error('stopping');
      await parts.db.ping();
      res.json({ status: 'ready' });
    } catch {
      sendProblem(res, new Refused('unavailable', 'Not ready.'), String(res.locals.requestId));
    }
  });
  router.get('/metrics', async (_req, res) => {
    res.setHeader('Content-Type', parts.metrics.registry.contentType);
    res.end(await parts.metrics.registry.metrics());
  });
  return router;
}
