/** Scans over HTTP. Refusals: `not-found`, `atomic-refused`, `rule-broken`; per scan those of process.ts. */
import { notFound, Refused } from '../../domain/errors.ts';
import { withoutReaderEnd } from '../../domain/gs1/index.ts';
import { fromInstant } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import {
  contentHashOf,
  findFacts,
  insertFacts,
  isReplay,
  signatureOf,
  type NewFact,
} from '../../platform/http/facts.ts';
import { problemOf } from '../../platform/http/problem.ts';
import { findSites } from '../catalogue/index.ts';
import { materialOf } from '../ledger/index.ts';
import type * as contract from './contract.ts';
import { processScans, type ScanOutcome } from './process.ts';
import { findScan } from './store.ts';
import type { IncomingScan } from './work.ts';

type Scans = Context<typeof contract.createScans>;
type NewScan = Scans['body']['scans'][number];

interface Named {
  readonly scan: NewScan;
  readonly index: number;
  readonly content: Readonly<Record<string, unknown>>;
  readonly contentHash: Buffer;
}

export async function recordScans(context: Scans): Promise<Reply> {
  const { body, tx, scope, nowMs, actor, ids, requestId } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  if (new Set(body.scans.map((scan) => scan.id)).size < body.scans.length) {
    throw new Refused('rule-broken', 'Two scans of this call have the same id.');
  }
  const clockOffsetMs = body.deviceTime === undefined ? null : nowMs - fromInstant(body.deviceTime);
  // The fields as sent, without the scan's own name and the device's clock.
  const named = body.scans.map((scan, index): Named => {
    const { id: _id, ...fields } = scan;
    const content = { ...fields, siteId: body.siteId };
    return { scan, index, content, contentHash: contentHashOf(content) };
  });
  const known = await findFacts(
    tx,
    named.map(({ scan }) => scan.id),
  );
  const results: (object | undefined)[] = new Array<object | undefined>(named.length);
  const fresh: Named[] = [];
  const refuse = (one: Named, refused: Refused) => {
    results[one.index] = { ...blank(one), stateHref: null, status: 'refused', problem: problemOf(refused, requestId) };
  };
  for (const one of named) {
    const stored = known.get(one.scan.id);
    if (!stored) {
      fresh.push(one);
      continue;
    }
    try {
      isReplay(stored, 'createScans', one.content, one.contentHash);
      // what is kept is what differs from a blank answer; one of long ago may lack what answers have now
      results[one.index] = { ...blank(one), ...(stored.answer as object), index: one.index, replayed: true };
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      refuse(one, error);
    }
  }
  const atomic = body.atomic ?? false;
  const incoming = fresh.map((one) => incomingOf(one, clockOffsetMs, actor.actorId));
  const stop = atomic && results.some((result) => (result as { status?: string } | undefined)?.status === 'refused');
  const outcomes = stop ? [] : await processScans({ tx, ids, nowMs, site }, incoming, { atomic, stored: false });
  const facts: NewFact[] = [];
  for (const [at, outcome] of outcomes.entries()) {
    const one = fresh[at] as Named;
    if (outcome.refused) {
      refuse(one, outcome.refused);
      continue;
    }
    const answer = shown(outcome);
    results[one.index] = { ...blank(one), ...answer };
    facts.push({
      factId: one.scan.id,
      operation: 'createScans',
      content: one.content,
      contentHash: one.contentHash,
      siteId: site.siteId,
      status: 207,
      answer: sparse(answer),
      location: `/v1/scans/${one.scan.id}`,
      ...signatureOf(actor, 'scans.write', site.siteId),
    });
  }
  const refused = results.filter((result) => (result as { status?: string } | undefined)?.status === 'refused');
  if (atomic && refused.length > 0) {
    throw new Refused('atomic-refused', `${refused.length} of ${named.length} scans were refused.`, {
      members: { results: refused.slice(0, 20) },
    });
  }
  await insertFacts(tx, facts, nowMs);
  return { status: 207, body: { recorded: results.length - refused.length, refused: refused.length, results } };
}

function blank(one: Named): object {
  return {
    index: one.index,
    id: one.scan.id,
    replayed: false,
    lotId: null,
    lotCode: null,
    serial: null,
    total: null,
    expected: null,
    mayUse: null,
    whyNot: null,
    arrivedAs: null,
    arrivalNote: null,
    held: null,
    findings: [],
    problem: null,
    stateHref: `/v1/scans/${one.scan.id}`,
  };
}

/** What a blank answer says already is not kept with each of thousands. */
function sparse(answer: object): object {
  return Object.fromEntries(
    Object.entries(answer).filter(([, value]) => value !== null && !(Array.isArray(value) && value.length === 0)),
  );
}

function shown(outcome: ScanOutcome): object {
  return {
    status: outcome.status,
    lotId: outcome.lot?.lotId ?? null,
    lotCode: outcome.lot?.code ?? null,
    serial: outcome.serial,
    total: outcome.total,
    expected: outcome.expected,
    mayUse: outcome.mayUse,
    whyNot: outcome.whyNot,
    arrivedAs: outcome.arrivedAs,
    arrivalNote: outcome.arrivalNote,
    held: outcome.held,
    findings: outcome.findings.map(({ kind, lotId, quantity, detail }) => ({ kind, lotId, quantity, detail })),
  };
}

function incomingOf({ scan, contentHash }: Named, clockOffsetMs: number | null, actorId: string): IncomingScan {
  const { id, kind, code, occurredAt, note, servicePoint, meal, ...more } = scan;
  const { material, coreTemperatureC, portions, purpose, recipient, ...rest } = more;
  return {
    ...rest,
    scanId: id,
    kind,
    code: withoutReaderEnd(code),
    occurredAtMs: fromInstant(occurredAt),
    note: { note, servicePoint, meal, coreTemperatureC, portions, purpose, recipient, material: materialOf(material) },
    contentHash,
    clockOffsetMs,
    actorId,
  };
}

export async function readScan(context: Context<typeof contract.getScan>): Promise<Reply> {
  const row = await findScan(context.tx, context.params.scanId);
  if (!row || !context.scope.includes(row.siteId)) throw notFound('scan');
  const body = {
    scanId: row.scanId,
    siteId: row.siteId,
    kind: row.kind,
    code: row.code,
    lotId: row.lotId,
    serial: row.serial,
    dispatchId: row.dispatchId,
    placeId: row.placeId ?? (row.kind === 'arrival' || row.totalId !== null ? row.presumedPlaceId : null),
    quantity: row.quantity,
    condition: row.condition,
    occurredAt: new Date(row.occurredAtMs).toISOString(),
    recordedAt: row.recordedAt.toISOString(),
    clockOffsetMs: row.clockOffsetMs,
    actorId: row.actorId,
    outcome: row.outcome === 'recorded' && row.superseded ? 'superseded' : row.outcome,
    entryIds: row.entryIds,
  };
  return { status: 200, body };
}
