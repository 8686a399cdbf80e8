/**
 * Random observations of what happened to the food of a kitchen and a ward, whose ids, times and new lots' codes are fixed, so that
 * they can arrive in any order. Scans are not undone in these stories: which entry stands for one hangs on what else is known.
 */
import fc from 'fast-check';
import { derivedId, exampleId } from '../../src/platform/ids.ts';
import { BATCH, CK, CK_CHILLER, CK_PREP, DISPATCH, LOTS, MORNING_MS, PLATE, W3, W3_CHILLER } from './kitchen-start.ts';

const PLACES = [CK_CHILLER, CK_PREP, W3_CHILLER] as const;
const siteOf = (placeId: string) => (placeId === W3_CHILLER ? W3 : CK);
const at = (minute: number) => new Date(MORNING_MS + (60 + minute) * 60_000).toISOString();

/** One observation as it is sent; `after`: facts without which what it names does not exist yet. */
export interface Observation {
  readonly name: string;
  readonly path: string;
  readonly body: object;
  readonly after: readonly string[];
}

interface Lot {
  readonly lotId: string;
  readonly unit: 'g' | 'piece';
  readonly after: readonly string[];
}

type Made = { readonly told: Omit<Observation, 'name'>; readonly lot?: Lot; readonly undoable: boolean };

const SINGLE = ['departure', 'late-input'] as const;
const WASTE = { reason: 'damaged', destination: 'composting' };
const drawn = fc.record({
  kind: fc.constantFrom(
    ...(['open', 'portion', 'freeze', 'thaw', 'regenerate', 'freeze', 'thaw'] as const),
    ...(['use', 'discard', 'count', 'count', 'complete', 'move', 'return', 'refusal', 'receipt', 'receipt'] as const),
    ...(['late-input', 'departure', 'pack-put-away', 'pack-use', 'pack-discard', 'total', 'total'] as const),
  ),
  minute: fc.nat(280),
  lot: fc.nat(),
  place: fc.nat(),
  other: fc.nat(),
  quantity: fc.integer({ min: 1, max: 5 }),
  said: fc.boolean(),
});
type Drawn = typeof drawn extends fc.Arbitrary<infer T> ? T : never;

const pick = <T>(list: readonly T[], n: number): T => list[n % list.length] as T;

/** The fact in the service's words. What came of earlier conversions may be named, and is then told after them. */
function tell(one: Drawn, name: string, lots: readonly Lot[]): Made {
  const id = exampleId(`story/fact-${name}`);
  const occurredAt = at(one.minute);
  const placeId = pick(PLACES, one.place);
  const lot = pick(lots, one.lot);
  const amount = lot.unit === 'g' ? one.quantity * 50 : one.quantity;
  const of = (more: object = {}) => ({
    id,
    lotId: lot.lotId,
    placeId,
    quantity: amount,
    unit: lot.unit,
    occurredAt,
    ...more,
  });
  const fact = (path: string, body: object, after: readonly string[] = lot.after): Made => ({
    told: { path, body, after },
    undoable: true,
  });
  const scan = (siteId: string, fields: object): Made => ({
    told: { path: '/v1/scans', body: { siteId, scans: [{ id, occurredAt, ...fields }] }, after: [] },
    undoable: false,
  });
  const serial = `SER/${1 + (one.lot % 5)}`;
  const counted = { lotId: LOTS.counted, quantity: one.quantity, unit: 'piece' };
  switch (one.kind) {
    case 'open':
    case 'portion':
    case 'freeze':
    case 'thaw':
    case 'regenerate': {
      const toItem = one.kind === 'portion' ? { toItemId: PLATE } : {};
      const common = { id, kind: one.kind, occurredAt, toLotCode: `NEW-${name}`, ...toItem };
      const byPack = one.said && one.other % 2 === 0;
      const siteId = siteOf(placeId);
      const body = byPack
        ? { ...common, code: serial, siteId, ...(one.other % 4 === 0 && { placeId }) }
        : { ...common, lotId: lot.lotId, placeId, quantity: lot.unit === 'g' ? amount * 3 : amount };
      const same = one.kind === 'freeze' || one.kind === 'thaw';
      const unit = one.kind === 'portion' || (same && (byPack || lot.unit === 'piece')) ? 'piece' : 'g';
      const isPlate = !byPack && lot.unit === 'piece' && lot.after.length > 0;
      return {
        told: { path: '/v1/conversions', body, after: byPack ? [] : lot.after },
        lot: {
          lotId: derivedId('converted-lot', id),
          unit: isPlate && one.kind !== 'portion' ? 'piece' : unit,
          after: [name],
        },
        undoable: true,
      };
    }
    case 'use':
      return fact('/v1/uses', of({ meal: 'lunch' }));
    case 'discard':
      return fact('/v1/discards', of(WASTE));
    case 'count':
    case 'complete': {
      const complete = one.kind === 'complete';
      const lines = complete && one.said ? [] : [{ lotId: lot.lotId, quantity: amount * 2, unit: lot.unit }];
      return fact('/v1/stock-counts', { id, placeId, occurredAt, complete, lines }, lines.length > 0 ? lot.after : []);
    }
    case 'move': {
      const [fromPlaceId, toPlaceId] = one.said ? [CK_CHILLER, CK_PREP] : [CK_PREP, CK_CHILLER];
      const { placeId: _placeId, ...body } = of({ fromPlaceId, toPlaceId });
      return fact('/v1/recorded-moves', body);
    }
    case 'return':
      return fact('/v1/returns', of({ direction: 'from-service', placeId: W3_CHILLER, reason: 'Not served' }));
    case 'refusal':
      return fact(
        `/v1/dispatches/${DISPATCH}/refusals`,
        { id, occurredAt, reason: 'Pouches wet', lines: [counted] },
        [],
      );
    case 'receipt': {
      const line = { ...counted, condition: one.said ? 'accepted' : 'damaged' };
      return fact(
        `/v1/dispatches/${DISPATCH}/receipts`,
        { id, occurredAt, closes: one.other % 3 === 0, lines: [line] },
        [],
      );
    }
    case 'late-input':
      return fact(
        `/v1/batches/${BATCH}/recorded-inputs`,
        of({ lotId: LOTS.lateShin, placeId: CK_CHILLER, quantity: 400, unit: 'g' }),
        [],
      );
    case 'departure':
      return fact(`/v1/dispatches/${DISPATCH}/recorded-departure`, { id, departedAt: occurredAt }, []);
    case 'pack-put-away':
      return scan(siteOf(placeId), { kind: 'put-away', code: serial, placeId });
    case 'pack-use':
      return scan(siteOf(placeId), { kind: 'use', code: serial, meal: 'lunch', ...(one.said && { placeId }) });
    case 'pack-discard':
      return scan(siteOf(placeId), { kind: 'discard', code: serial, ...WASTE, ...(one.said && { placeId }) });
    case 'total': {
      const kind = pick(['use', 'discard', 'count', 'put-away'] as const, one.other);
      const why = kind === 'discard' ? WASTE : kind === 'use' ? { meal: 'lunch' } : {};
      return scan(siteOf(placeId), { kind, code: 'CNT', placeId, quantity: one.quantity, ...why });
    }
  }
}

export interface Story {
  readonly facts: readonly Observation[];
  /** told last of all */
  readonly reversals: readonly Observation[];
  /** orders of arrival of facts, each of which keeps what comes after its lot after it */
  readonly orders: readonly (readonly Observation[])[];
}

/** Sorted by the numbers, but what needs another fact waits for it. */
function arrival(facts: readonly Observation[], numbers: readonly number[]): Observation[] {
  const left = facts.map((fact, n) => ({ fact, rank: numbers[n] ?? n })).sort((a, b) => a.rank - b.rank);
  const told: Observation[] = [];
  while (left.length > 0) {
    const next = left.findIndex(({ fact }) => fact.after.every((name) => told.some((one) => one.name === name)));
    told.push(...left.splice(next, 1).map(({ fact }) => fact));
  }
  return told;
}

export const stories: fc.Arbitrary<Story> = fc
  .record({
    drawn: fc.array(drawn, { minLength: 8, maxLength: 14 }),
    ranks: fc.array(fc.array(fc.nat(1_000_000), { minLength: 14, maxLength: 14 }), { minLength: 2, maxLength: 2 }),
    undone: fc.uniqueArray(fc.nat(13), { maxLength: 2 }),
  })
  .map(({ drawn: all, ranks, undone }) => {
    const lots: Lot[] = [{ lotId: LOTS.counted, unit: 'piece', after: [] }];
    lots.push({ lotId: LOTS.counted, unit: 'piece', after: [] }, { lotId: LOTS.stew, unit: 'g', after: [] });
    const seen = new Set<string>();
    const made = all.flatMap((one, n) => {
      // a dispatch leaves once; a second recording of it is refused whatever the order
      if (SINGLE.some((kind) => kind === one.kind) && seen.has(one.kind)) return [];
      seen.add(one.kind);
      const name = String(n);
      const { told, lot, undoable } = tell(one, name, lots);
      if (lot) lots.push(lot);
      return [{ fact: { name, ...told }, undoable }];
    });
    const facts = made.map(({ fact }) => fact);
    const reversals = undone.flatMap((n): Observation[] => {
      const target = made[n];
      if (!target?.undoable) return [];
      const entryId = exampleId(`story/fact-${target.fact.name}`);
      const name = `undo-${target.fact.name}`;
      const body = { id: exampleId(`story/${name}`), entryId, reason: 'Slip of the hand' };
      return [{ name, path: '/v1/reversals', body, after: [target.fact.name] }];
    });
    return { facts, reversals, orders: ranks.map((numbers) => arrival(facts, numbers)) };
  });
