/** One fact of a story of months as a request to the service. What the service chose by itself (a quantity opened) comes back in the fact. */
import { itemOf, lotsOf, siteOfPlace, type MonthFact } from '../oracle/month-facts.ts';
import type { Json } from '../kitchen.ts';
import type { TestService } from '../service.ts';
import { packerOf, SUPPLIER_ID, WORLD } from './month-world.ts';

export interface MonthTeller {
  readonly service: TestService;
  readonly groupId: string;
  /** as accepted, in order */
  readonly facts: MonthFact[];
  /** when each was recorded */
  readonly toldAtMs: number[];
  /** ids of closes by month, the newest last */
  readonly closeIds: Map<string, string[]>;
  /** entries by fact, where they differ */
  readonly entryIds: Map<string, string>;
  readonly refusals: Map<string, number>;
}

export const monthTeller = (service: TestService, groupId: string): MonthTeller => ({
  service,
  groupId,
  facts: [],
  toldAtMs: [],
  closeIds: new Map(),
  entryIds: new Map(),
  refusals: new Map(),
});

const codeOf = (lotId: string): string => lotId.replaceAll('-', '').slice(0, 20);
const given = (fields: object): object =>
  Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== null && value !== undefined));

interface Asked {
  readonly role: string;
  readonly path: string;
  readonly body: Json;
}

function askedOf(on: MonthTeller, fact: MonthFact): Asked {
  const lots = lotsOf(WORLD, [...on.facts, fact]);
  const unitOf = (lotId: string): string => itemOf(WORLD, lots.get(lotId)?.itemId ?? '').unit;
  const occurredAt = new Date(fact.occurredAt).toISOString();
  const base = { id: fact.id, occurredAt };
  const part = (of: { lotId: string; placeId: string; quantity: number }): object => ({
    lotId: of.lotId,
    placeId: of.placeId,
    quantity: of.quantity,
    unit: unitOf(of.lotId),
  });
  const massG = (massMg?: number): object => (massMg === undefined ? {} : { massG: massMg / 1000 });
  const ask = (path: string, body: object, role = 'operations'): Asked => ({
    role,
    path,
    body: { id: fact.id, ...body },
  });
  switch (fact.kind) {
    case 'bought': {
      const { lotId, itemId, placeId, priceMinor } = fact;
      const line = { ...part(fact), lotCode: codeOf(lotId), itemId, ...given({ priceMinor }), ...massG(fact.massMg) };
      const siteId = siteOfPlace(WORLD, placeId);
      return ask('/v1/goods-receipts', { ...base, siteId, supplierId: SUPPLIER_ID, lines: [line] });
    }
    case 'price': {
      const { lotId, priceMinor, perQuantity } = fact;
      const free = fact.freeOfCharge ? { freeOfCharge: true } : {};
      return ask('/v1/prices', { lotId, priceMinor, ...given({ perQuantity }), ...free });
    }
    case 'rate': {
      const { rateKind: kind, siteId, recipeId, perBatchMinor, perKgMinor, fromDate, throughDate } = fact;
      const optional = given({ siteId, recipeId, perBatchMinor, perKgMinor, throughDate });
      return ask('/v1/cost-rates', { kind, fromDate, ...optional }, 'finance');
    }
    case 'batch': {
      const { batchId, siteId, recipeId } = fact;
      return ask('/v1/batches', { id: batchId, siteId, recipeId, startedAt: occurredAt });
    }
    case 'input': {
      const item = itemOf(WORLD, lots.get(fact.lotId)?.itemId ?? '');
      const what = item.untracked === true ? { itemId: item.id } : { lotId: fact.lotId, placeId: fact.placeId };
      const body = { ...base, ...what, quantity: fact.quantity, unit: item.unit };
      return ask(`/v1/batches/${fact.batchId}/recorded-inputs`, body);
    }
    case 'output': {
      const load = { ...part(fact), lotCode: codeOf(fact.lotId), itemId: fact.itemId };
      return ask(`/v1/batches/${fact.batchId}/outputs`, { ...base, loads: [load] });
    }
    case 'completion': {
      const gains = fact.gainsMg === 0 ? {} : { gains: [{ kind: 'water-uptake', massG: fact.gainsMg / 1000 }] };
      return ask(`/v1/batches/${fact.batchId}/completion`, { completedAt: occurredAt, ...gains, losses: [] });
    }
    case 'packing': {
      const fills = fact.fills.map(({ from, packs }) => ({
        fromLotId: from.lotId,
        fromPlaceId: from.placeId,
        usedQuantity: from.quantity,
        usedUnit: 'g',
        packItemId: packs.itemId,
        packs: packs.quantity,
        packLotId: packs.lotId,
        packLotCode: codeOf(packs.lotId),
        toPlaceId: packs.placeId,
        serialised: false,
        ...massG(packs.massMg),
      }));
      const equipmentId = packerOf(siteOfPlace(WORLD, fact.fills[0]?.from.placeId ?? ''));
      const run = { equipmentId, programme: 'Soup', startedAt: occurredAt, finishedAt: occurredAt, fills };
      return ask(`/v1/batches/${fact.batchId}/recorded-packing-runs`, run);
    }
    case 'conversion':
      return ask('/v1/conversions', {
        ...base,
        kind: 'open',
        ...part(fact.from),
        toPlaceId: fact.into.placeId,
        toLotCode: codeOf(fact.into.lotId),
      });
    case 'move': {
      const { lotId, placeId: fromPlaceId, toPlaceId, quantity } = fact;
      return ask('/v1/recorded-moves', { ...base, lotId, fromPlaceId, toPlaceId, quantity, unit: unitOf(lotId) });
    }
    case 'departure':
      return ask(`/v1/dispatches/${fact.dispatchId}/recorded-departure`, { departedAt: occurredAt });
    case 'arrival': {
      const lines = fact.lines.map((line) => ({ ...part(line), condition: 'accepted' }));
      return ask(`/v1/dispatches/${fact.dispatchId}/receipts`, { ...base, closes: false, lines });
    }
    case 'use':
      return ask('/v1/uses', {
        ...base,
        ...part(fact),
        purpose: fact.purpose,
        ...(fact.purpose === 'donation' && { recipient: 'Food bank' }),
      });
    case 'discard': {
      const { reason, destination, material } = fact;
      return ask('/v1/discards', { ...base, ...part(fact), reason, ...given({ destination }), material });
    }
    case 'back-from-service':
    case 'back-to-supplier': {
      const direction = fact.kind === 'back-from-service' ? 'from-service' : 'to-supplier';
      return ask('/v1/returns', { ...base, ...part(fact), direction, reason: 'Not touched' });
    }
    case 'count': {
      const lines = fact.lines.map(({ lotId, counted }) => ({ lotId, quantity: counted, unit: unitOf(lotId) }));
      return ask('/v1/stock-counts', { ...base, placeId: fact.placeId, lines });
    }
    case 'reversal':
      return ask('/v1/reversals', {
        entryId: on.entryIds.get(fact.ofFactId) ?? fact.ofFactId,
        reason: 'Slip of the hand',
      });
    case 'close':
      return ask('/v1/month-closes', { month: fact.month }, 'finance');
    case 'reopening': {
      const closeId = on.closeIds.get(fact.month)?.at(-1) ?? '';
      return ask(`/v1/month-closes/${closeId}/reopenings`, { reason: 'An invoice was missing' }, 'finance');
    }
  }
}

async function post(on: MonthTeller, { role, path, body }: Asked) {
  const answer = await on.service.as(role, null, on.groupId).post(path, body);
  if (answer.status >= 500) throw new Error(`${path} answered ${answer.text} to ${JSON.stringify(body)}`);
  return answer;
}

/** Closes with every check that stands in the way accepted. */
async function close(on: MonthTeller, asked: Asked) {
  const first = await post(on, asked);
  if (first.body.code !== 'checks-open') return first;
  const accept = (first.body.checks as Json[]).map(({ check }) => ({ check: check as string, reason: 'Known' }));
  return post(on, { ...asked, body: { ...asked.body, accept } });
}

/**
 * Tells one fact at a moment; answers the code of the refusal, or null when it is recorded. The clock never goes back.
 * @throws Error when the service fails
 */
export async function tellMonthFact(on: MonthTeller, fact: MonthFact, atMs: number): Promise<string | null> {
  on.service.clock.set(atMs);
  if (fact.kind === 'departure') {
    const lines = fact.lines.map((line) => ({ ...line, unit: unitFor(on, line.lotId) }));
    const fromSiteId = siteOfPlace(WORLD, fact.lines[0]?.placeId ?? '');
    const plan = { id: fact.dispatchId, fromSiteId, toSiteId: fact.toSiteId, lines };
    const planned = await post(on, { role: 'operations', path: '/v1/dispatches', body: plan });
    if (planned.status !== 201) return refused(on, fact, planned.body.code as string, planned.text);
  }
  const asked = askedOf(on, fact);
  const answer = fact.kind === 'close' ? await close(on, asked) : await post(on, asked);
  if (answer.status >= 400) return refused(on, fact, answer.body.code as string, answer.text);
  let told = fact;
  if (fact.kind === 'conversion') {
    const { lot, outputG, entryId } = answer.body;
    on.entryIds.set(fact.id, entryId as string);
    const massMg = (Number(outputG.numerator) * 1000) / Number(outputG.denominator);
    told = { ...fact, into: { ...fact.into, lotId: lot.lotId, quantity: lot.quantity, placeId: lot.placeId, massMg } };
  }
  if (fact.kind === 'close') on.closeIds.set(fact.month, [...(on.closeIds.get(fact.month) ?? []), answer.body.closeId]);
  if (fact.kind === 'reopening') {
    const path = `/v1/month-reopenings/${answer.body.reopeningId}/confirmations`;
    const body = { id: `${fact.id.slice(0, 14)}8${fact.id.slice(15)}` };
    const confirmed = await post(on, { role: 'operations', path, body });
    if (confirmed.status >= 400) throw new Error(`${path} answered ${confirmed.text}`);
  }
  on.facts.push(told);
  on.toldAtMs.push(atMs);
  return null;
}

function unitFor(on: MonthTeller, lotId: string): string {
  return itemOf(WORLD, lotsOf(WORLD, on.facts).get(lotId)?.itemId ?? '').unit;
}

function refused(on: MonthTeller, fact: MonthFact, code: string, text: string): string {
  const key = `${fact.kind} ${code}`;
  on.refusals.set(key, (on.refusals.get(key) ?? 0) + 1);
  if (process.env['SEALTRAIL_STORY_TALK'] !== undefined) process.stdout.write(`${key} ${text.slice(0, 400)}\n`);
  return code;
}
