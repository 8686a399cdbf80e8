/** The only file that knows every feature: it puts them together from { db, clock, ids, tokens, log }. */
import express, { type Express, type NextFunction, type Request, type RequestHandler, type Response } from 'express';
import { rateLimit } from 'express-rate-limit';
import helmet from 'helmet';
import { pinoHttp } from 'pino-http';
import { Refused } from './domain/errors.ts';
import { catalogueOperations } from './features/catalogue/index.ts';
import { closeReceipts, distributionOperations, receivingOperations } from './features/distribution/index.ts';
import { exchangeJobs, exchangeOperations } from './features/exchange/index.ts';
import { goodsInOperations } from './features/goods-in/index.ts';
import { identityOperations } from './features/identity/index.ts';
import { labelOperations } from './features/labels/index.ts';
import { findPastDateStock, ledgerOperations, trimOutbox } from './features/ledger/index.ts';
import { processCheckOperations } from './features/process-checks/index.ts';
import { productionOperations } from './features/production/index.ts';
import { identifyScans, scanningOperations } from './features/scanning/index.ts';
import { noticeSites, recallOperations, reviseCases } from './features/recall/index.ts';
import { reportingJobs, reportingOperations } from './features/reporting/index.ts';
import { recomputeShelfLife, shelfLifeOperations } from './features/shelf-life/index.ts';
import { recomputeTemperature, temperatureJobs, temperatureOperations } from './features/temperature/index.ts';
import { tracingOperations } from './features/tracing/index.ts';
import type { Tokens } from './platform/auth/tokens.ts';
import { stopwatch, type Clock } from './platform/clock.ts';
import type { Db } from './platform/db/db.ts';
import type { BoundOperation, Operation } from './platform/http/contract.ts';
import { pages } from './platform/http/pages.ts';
import { sendProblem } from './platform/http/problem.ts';
import { buildRouter, refusalOf, requestIdOf } from './platform/http/router.ts';
import type { TagText } from './platform/openapi/document.ts';
import type { Ids } from './platform/ids.ts';
import type { Job } from './platform/jobs.ts';
import type { Log } from './platform/log.ts';
import { createMetrics } from './platform/metrics.ts';

const SIGN_IN_WINDOW_S = 60;
const SIGN_INS_PER_WINDOW = 120;

export interface AppParts {
  readonly db: Db;
  readonly clock: Clock;
  readonly ids: Ids;
  readonly tokens: Tokens;
  readonly log: Log;
  readonly ready?: () => boolean;
  /** how long readings are kept; null or left out: for ever */
  readonly readingsKeepDays?: number | null;
  /** webhooks may go to http and inside addresses */
  readonly webhookAllowPrivate?: boolean;
}

/** The chapters of the OpenAPI document. */
export const tags: readonly TagText[] = [
  { name: 'identity', description: 'Signing in; people and devices, and what they may do where' },
  { name: 'catalogue', description: 'Sites, places, equipment, suppliers, items and recipes' },
  { name: 'goods-in', description: 'What suppliers bring' },
  { name: 'production', description: 'Batches: what goes in, what comes out, packing, release' },
  {
    name: 'process-checks',
    description: 'What is checked while food is made and kept: plans, records, heat and cooling, probes, deviations',
  },
  { name: 'lots', description: 'Lots, their history, and entries' },
  { name: 'stock', description: 'What is on hand, and what moves it within a site or out of it' },
  { name: 'requirements', description: 'What sites need; what to make and to pick for it, and what was sent' },
  { name: 'distribution', description: 'Dispatches, and what was found on arrival' },
  { name: 'scanning', description: 'Scans in bulk: arrival, put-away, use, discard, count' },
  { name: 'holds', description: 'Why a lot may not be used' },
  { name: 'findings', description: 'What observations showed that the rules do not allow' },
  {
    name: 'temperature',
    description: 'Sensors, where they are and what they say; how places are watched; excursions',
  },
  { name: 'labels', description: 'Labels of lots, ready for the printer' },
  {
    name: 'shelf-life',
    description: 'What warmth takes from a life, what is left of it, and labels that have to follow',
  },
  { name: 'tracing', description: 'Where food came from, what it became, and where all of that is' },
  {
    name: 'recall',
    description: 'Finding, freezing, telling, counting and proving, until every pack of a case is accounted for',
  },
  { name: 'costs', description: 'What bought food cost, what making it adds, and what every lot comes to' },
  {
    name: 'reporting',
    description:
      'The morning list of a site; the month: what was wasted, what batches yielded, where the money went, and its closing',
  },
  {
    name: 'exchange',
    description:
      'For other systems: the event feed, webhooks, EPCIS 2.0, deliveries that suppliers announce, spreadsheets',
  },
];

/** Every operation of the service, bound to what it needs. */
function bindOperations(parts: Pick<AppParts, 'tokens' | 'log' | 'webhookAllowPrivate'>): readonly BoundOperation[] {
  return [
    ...identityOperations(parts),
    ...catalogueOperations,
    ...goodsInOperations,
    ...productionOperations,
    ...processCheckOperations,
    ...distributionOperations,
    ...receivingOperations(parts),
    ...scanningOperations,
    ...ledgerOperations,
    ...temperatureOperations,
    ...labelOperations,
    ...shelfLifeOperations,
    ...tracingOperations,
    ...recallOperations,
    ...reportingOperations,
    ...exchangeOperations(parts),
  ];
}

/** The contracts alone, for the OpenAPI document and for tests. */
export function allOperations(): readonly Operation[] {
  const none = { tokens: null as unknown as Tokens, log: null as unknown as Log };
  return bindOperations(none).map((one) => one.operation);
}

export function allJobs(parts: AppParts): readonly Job[] {
  const temperature = [recomputeTemperature(parts), ...temperatureJobs(parts)];
  const recall = [reviseCases(parts), noticeSites(parts)];
  const stock = [identifyScans(parts), closeReceipts(parts), findPastDateStock(parts)];
  return [
    ...stock,
    ...recall,
    ...temperature,
    recomputeShelfLife(parts),
    ...reportingJobs(parts),
    ...exchangeJobs(parts),
    trimOutbox(parts),
  ];
}

/**
 * Guessing is slowed per address before any password is looked at; names are locked by identity, whatever the address. Counted in this
 * process alone. The standard headers are left out: Retry-After is the one that the contract declares.
 */
function signInLimit(): RequestHandler {
  return rateLimit({
    windowMs: SIGN_IN_WINDOW_S * 1000,
    limit: SIGN_INS_PER_WINDOW,
    standardHeaders: false,
    legacyHeaders: false,
    // Behind a proxy all share the proxy's address. Its headers are not believed, and that they are there is no mistake.
    validate: false,
    handler: (_req, res) => {
      const headers = { 'Retry-After': String(SIGN_IN_WINDOW_S) };
      const detail = `More than ${SIGN_INS_PER_WINDOW} tries to sign in within ${SIGN_IN_WINDOW_S} seconds from one address.`;
      sendProblem(res, new Refused('too-many-requests', detail, { headers }), requestIdOf(res));
    },
  });
}

export function createApp(parts: AppParts): Express {
  const app = express();
  app.disable('x-powered-by');
  app.disable('etag');
  app.set('query parser', 'simple');
  app.set('case sensitive routing', true);
  app.set('strict routing', true);
  const metrics = createMetrics();

  app.use((req: Request, res: Response, next: NextFunction) => {
    res.locals.requestId = parts.ids.newId();
    res.setHeader('X-Request-Id', requestIdOf(res));
    const elapsedS = stopwatch();
    res.locals.elapsedS = elapsedS;
    next();
  });
  app.use(
    pinoHttp({
      logger: parts.log,
      genReqId: (_req, res) => requestIdOf(res as unknown as Response),
      // liveness probes come every few seconds; they would bury the rest
      autoLogging: { ignore: (req) => req.url === '/healthz' || req.url === '/readyz' },
      customProps: (_req, res) => ({ actor: (res as unknown as Response).locals?.actor as unknown }),
      serializers: {
        req: (req: { method: string; url: string }) => ({ method: req.method, path: req.url.split('?')[0] }),
        res: (res: { statusCode: number }) => ({ status: res.statusCode }),
      },
    }),
  );
  app.use(
    helmet({
      contentSecurityPolicy: {
        directives: { 'style-src': ["'self'", "'unsafe-inline'"], 'upgrade-insecure-requests': null },
      },
    }),
  );
  app.use(['/v1/sign-ins', '/v1/device-sign-ins', '/v1/tablet-sign-ins', '/v1/me/pin'], signInLimit());
  app.use(pages({ db: parts.db, metrics, ready: parts.ready ?? (() => true) }));
  app.use(
    buildRouter(
      {
        ...parts,
        onDone: (operation, res) =>
          metrics.observe(operation.id, res.statusCode, (res.locals.elapsedS as () => number)()),
      },
      bindOperations(parts),
    ),
  );
  app.use((req: Request, res: Response) => {
    sendProblem(res, new Refused('not-found', `There is nothing at ${req.path.slice(0, 200)}.`), requestIdOf(res));
  });
  app.use((error: unknown, _req: Request, res: Response, next: NextFunction) => {
    if (res.headersSent) return next(error);
    // A path that cannot be decoded reaches here before any route does.
    const refused = error instanceof URIError ? new Refused('not-found', 'The path cannot be read.') : refusalOf(error);
    if (refused.code === 'internal-error') parts.log.error({ err: error, requestId: requestIdOf(res) });
    sendProblem(res, refused, requestIdOf(res));
  });
  return app;
}
