/** One fact of a story as requests to the service: what is sent, and how the answer is read. */
import { siteOfPlace } from '../oracle/atlas.ts';
import type { OracleScenario } from '../oracle/arbitraries.ts';
import type { OracleFact } from '../oracle/types.ts';
import type { Answer, TestService } from '../service.ts';
import { IDS, ITEMS } from './group.ts';

export interface Sent {
  readonly role: string;
  readonly path: string;
  readonly body: object;
  readonly atMs: number;
}

export interface Teller {
  readonly service: TestService;
  readonly groupId: string;
  readonly story: OracleScenario;
  readonly opened: Set<string>;
  /** when a fact is sent; left out: when it happened */
  readonly sentAtMs?: (fact: OracleFact) => number;
  /** every request that was accepted, with its answer */
  readonly log: { readonly sent: Sent; readonly answer: Answer }[];
}

export const teller = (
  service: TestService,
  groupId: string,
  story: OracleScenario,
  sentAtMs?: (fact: OracleFact) => number,
): Teller => ({
  service,
  groupId,
  story,
  opened: new Set(),
  log: [],
  ...(sentAtMs && { sentAtMs }),
});

const instant = (ms: number): string => new Date(ms).toISOString();
/** Unique in its group, and at most 20 characters. */
const codeOf = (lotId: string): string => lotId.replaceAll('-', '').slice(0, 20);
/** A supplier has four codes in a story, and each is written in four ways on its invoices. */
export const supplierKeyOf = (lotId: string): string => `FL${parseInt(lotId.slice(-1), 16) % 4}`;
const spelt = (lotId: string): string => {
  const number = supplierKeyOf(lotId).slice(2);
  return [`FL-${number}`, `FL ${number}`, `fl-${number}`, `FL${number}`][parseInt(lotId.slice(-2, -1), 16) % 4] ?? '';
};
/** Two ways to say the same: which one is taken follows from the id, so that a replay takes it again. */
const byScan = (fact: OracleFact): boolean => parseInt(fact.id.slice(-1), 16) % 2 === 1;

function unitOf({ story }: Teller, lotId: string): 'g' | 'piece' {
  return story.lots.find((lot) => lot.lotId === lotId)?.form === 'bulk' ? 'g' : 'piece';
}

function useByOf({ story }: Teller, lotId: string): { useByDate?: string } {
  const useByMs = story.world.lots?.find((lot) => lot.lotId === lotId)?.useByMs;
  return useByMs === undefined ? {} : { useByDate: instant(useByMs).slice(0, 10) };
}

const WASTE = { reason: 'damaged', destination: 'composting' };

/** The request that says this fact. */
function requestOf(teller: Teller, fact: OracleFact): Pick<Sent, 'path' | 'body'> {
  const { world, facts } = teller.story;
  const { id } = fact;
  const occurredAt = instant(fact.occurredAt);
  const scan = (siteId: string, fields: object) => ({
    path: '/v1/scans',
    body: { siteId, scans: [{ id, occurredAt, ...fields }] },
  });
  switch (fact.kind) {
    case 'receive': {
      const { lotId, placeId, quantity } = fact;
      const line = { lotId, lotCode: codeOf(lotId), itemId: ITEMS.supplied, placeId, quantity, unit: 'g' };
      const siteId = siteOfPlace(world, placeId);
      const body = {
        id,
        siteId,
        supplierId: IDS.supplierId,
        occurredAt,
        lines: [{ ...line, supplierLotCode: spelt(lotId), ...useByOf(teller, lotId) }],
      };
      return { path: '/v1/goods-receipts', body };
    }
    case 'batch-input': {
      const { lotId, placeId, quantity } = fact;
      const body = { id, lotId, placeId, quantity, unit: unitOf(teller, lotId), occurredAt };
      return { path: `/v1/batches/${fact.batchId}/inputs`, body };
    }
    case 'batch-output': {
      const { lotId, placeId, quantity } = fact;
      const load = { lotId, lotCode: codeOf(lotId), placeId, quantity, unit: 'g', ...useByOf(teller, lotId) };
      return { path: `/v1/batches/${fact.batchId}/outputs`, body: { id, occurredAt, loads: [load] } };
    }
    case 'packing': {
      const fills = fact.fills.map((fill) => ({
        fromLotId: fill.fromLotId,
        fromPlaceId: fill.placeId,
        usedQuantity: fill.usedQuantity,
        usedUnit: 'g',
        packItemId: ITEMS.packed,
        packs: fill.packs,
        packLotId: fill.packLotId,
        packLotCode: codeOf(fill.packLotId),
        toPlaceId: fill.toPlaceId,
        serialised: fact.serialised,
        ...useByOf(teller, fill.packLotId),
      }));
      const run = { id, equipmentId: IDS.packerId, programme: 'Soup', startedAt: occurredAt, finishedAt: occurredAt };
      return { path: `/v1/batches/${IDS.packingBatchId}/packing-runs`, body: { ...run, fills } };
    }
    case 'move': {
      const { lotId, fromPlaceId, toPlaceId, quantity } = fact;
      const body = { id, lotId, fromPlaceId, toPlaceId, quantity, unit: unitOf(teller, lotId), occurredAt };
      return { path: '/v1/moves', body };
    }
    case 'dispatch':
      return { path: `/v1/dispatches/${fact.dispatchId}/departure`, body: { id, departedAt: occurredAt } };
    case 'arrival-counted': {
      const { lotId, quantity, dispatchId, placeId } = fact;
      const where = placeId === undefined ? {} : { placeId };
      const line = { lotId, quantity, unit: unitOf(teller, lotId), condition: 'accepted', ...where };
      return { path: `/v1/dispatches/${dispatchId}/receipts`, body: { id, occurredAt, closes: false, lines: [line] } };
    }
    case 'use':
    case 'discard': {
      const { kind, lotId, placeId, quantity } = fact;
      const why = kind === 'discard' ? WASTE : {};
      const body = { id, lotId, placeId, quantity, unit: unitOf(teller, lotId), occurredAt, ...why };
      return { path: kind === 'use' ? '/v1/uses' : '/v1/discards', body };
    }
    case 'return-from-service': {
      const { lotId, siteId, quantity } = fact;
      const placeId = world.sites.find((site) => site.id === siteId)?.receivingPlaceId;
      const body = { id, direction: 'from-service', lotId, placeId, quantity, unit: unitOf(teller, lotId), occurredAt };
      return { path: '/v1/returns', body: { ...body, reason: 'Not served' } };
    }
    case 'count': {
      const { placeId } = fact;
      const [first, ...others] = fact.lines;
      if (byScan(fact) && first !== undefined && others.length === 0 && fact.complete !== true) {
        const code = codeOf(first.lotId);
        return scan(siteOfPlace(world, placeId), { kind: 'count', code, placeId, quantity: first.counted });
      }
      const lines = fact.lines.map(({ lotId, counted }) => ({ lotId, quantity: counted, unit: unitOf(teller, lotId) }));
      return { path: '/v1/stock-counts', body: { id, placeId, occurredAt, lines, complete: fact.complete === true } };
    }
    case 'scan-counted': {
      const { what, siteId, lotId, quantity, placeId, dispatchId, meal } = fact;
      return scan(siteId, {
        kind: what,
        code: codeOf(lotId),
        quantity,
        ...(placeId !== undefined && { placeId }),
        ...(dispatchId !== undefined && { dispatchId }),
        ...(meal !== undefined && { meal }),
        ...(what === 'discard' && WASTE),
      });
    }
    case 'scan-arrival':
    case 'scan-put-away':
    case 'scan-use':
    case 'scan-discard': {
      const dispatch = facts.find(
        (one) => fact.kind === 'scan-arrival' && one.kind === 'dispatch' && one.dispatchId === fact.dispatchId,
      );
      const siteId = fact.kind === 'scan-arrival' ? '' : fact.siteId;
      return scan(dispatch?.kind === 'dispatch' ? dispatch.toSiteId : siteId, {
        kind: fact.kind.slice('scan-'.length),
        code: `${codeOf(fact.lotId)}/${fact.serial}`,
        ...(fact.kind === 'scan-arrival' && { dispatchId: fact.dispatchId }),
        ...(fact.placeId !== undefined && { placeId: fact.placeId }),
        ...(fact.kind === 'scan-discard' && WASTE),
      });
    }
    case 'hold': {
      const { lotId, holdKind, scope } = fact;
      const where = scope === 'everywhere' ? {} : 'siteId' in scope ? scope : { accountId: scope.placeId };
      return { path: '/v1/holds', body: { id, kind: holdKind, lotId, note: 'A doubt', ...where } };
    }
    case 'lift':
      return { path: `/v1/holds/${fact.holdId}/lift`, body: { id, note: 'No doubt any more' } };
    case 'reversal':
      return { path: '/v1/reversals', body: { id, entryId: fact.ofFactId, reason: 'Slip of the hand' } };
  }
}

export async function send(teller: Teller, sent: Sent): Promise<Answer> {
  teller.service.clock.set(sent.atMs);
  const answer = await teller.service.as(sent.role, null, teller.groupId).post(sent.path, sent.body);
  if (answer.status < 300) teller.log.push({ sent, answer });
  return answer;
}

async function must(teller: Teller, sent: Sent): Promise<Answer> {
  const answer = await send(teller, sent);
  if (answer.status !== 201) throw new Error(`${sent.path} answered ${answer.status}: ${answer.text}`);
  return answer;
}

/** What stands for a scan now: a later scan may have posted it anew. */
async function entryOf({ service, groupId, story }: Teller, factId: string): Promise<string> {
  const target = story.facts.find((fact) => fact.id === factId);
  if (!target?.kind.startsWith('scan-')) return factId;
  const scan = await service.as('operations', null, groupId).get(`/v1/scans/${factId}`);
  return (scan.body.entryIds[0] as string | undefined) ?? factId;
}

/** Requests by where what was done already is recorded afterwards. */
const AFTERWARDS = {
  'batch-input': ['/inputs', '/recorded-inputs'],
  packing: ['/packing-runs', '/recorded-packing-runs'],
  dispatch: ['/departure', '/recorded-departure'],
  move: ['/moves', '/recorded-moves'],
} as const;

/** The path of the twin that records a request's matter afterwards; the same path for what is an observation already. */
function afterwardsPath(fact: OracleFact, path: string): string {
  if (!(fact.kind in AFTERWARDS)) return path;
  const [asked, recorded] = AFTERWARDS[fact.kind as keyof typeof AFTERWARDS];
  return path.replace(asked, recorded);
}

/**
 * Sends what must be there first, then the fact; answers null or the code of the refusal.
 * @param afterwards what would be asked for is recorded as done instead
 */
export async function tell(teller: Teller, fact: OracleFact, afterwards = false): Promise<string | null> {
  const { world } = teller.story;
  const atMs = teller.sentAtMs?.(fact) ?? fact.occurredAt;
  const base = { role: 'operations', atMs };
  if ((fact.kind === 'batch-input' || fact.kind === 'batch-output') && !teller.opened.has(fact.batchId)) {
    const body = { id: fact.batchId, siteId: world.sites[0]?.id, recipeId: IDS.recipeId };
    await must(teller, { ...base, path: '/v1/batches', body });
    teller.opened.add(fact.batchId);
  }
  if (fact.kind === 'dispatch') {
    const fromSiteId = siteOfPlace(world, fact.lines[0]?.placeId ?? '');
    const lines = fact.lines.map((line) => ({ ...line, unit: unitOf(teller, line.lotId) }));
    const body = { id: fact.dispatchId, fromSiteId, toSiteId: fact.toSiteId, lines };
    await must(teller, { ...base, path: '/v1/dispatches', body });
  }
  const { path: asked, body } = requestOf(teller, fact);
  const path = afterwards ? afterwardsPath(fact, asked) : asked;
  const named = fact.kind === 'reversal' ? { ...body, entryId: await entryOf(teller, fact.ofFactId) } : body;
  const answer = await send(teller, { ...base, path, body: named });
  if (answer.status >= 500) throw new Error(`${fact.kind} ${fact.id}: ${path} answered ${answer.text}`);
  if (answer.status >= 400) return answer.body.code as string;
  const refused = (answer.body.results as { problem: { code: string } | null }[] | undefined)?.[0]?.problem;
  if (refused) return refused.code;
  if (fact.kind === 'batch-output') {
    const release = { id: releaseIdOf(fact.id), lotIds: [fact.lotId] };
    await must(teller, { role: 'quality', atMs, path: `/v1/batches/${fact.batchId}/release`, body: release });
  }
  return null;
}

/** A uuid that no story draws: its version is 8. */
const releaseIdOf = (factId: string): string => `${factId.slice(0, 14)}8${factId.slice(15)}`;
