/**
 * From a starting point as somebody says it to the lots that it names. Refusals: `starts-match-nothing`, `start-ambiguous`, `rule-broken`.
 */
import { Refused } from '../../../domain/errors.ts';
import { requirePeriod, startRefusal, type SaidStart } from '../../../domain/recall/starts.ts';
import { fromInstant } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { lotIdsOfExcursion } from '../../temperature/index.ts';
import type { StartAsked } from '../contract-starts.ts';
import { lotsOfAllergen, lotsOfItemPeriod } from './items.ts';
import { findLotIdByCode, lotsOfId } from './lots.ts';
import { findDispatchId, lotsOfDispatch, lotsOfPlacePeriod } from './places.ts';
import { findBatchId, lotsOfBatch, lotsOfMachine, lotsOfPerson, lotsOfRun } from './production.ts';
import { lotsOfCode, lotsOfSupplierPeriod, ownerOfCode, supplierLotKey } from './suppliers.ts';

export interface MatchedStart {
  readonly position: number;
  readonly said: SaidStart;
  /** in the order of their ids */
  readonly lotIds: readonly string[];
}

const LOTS_OF: Readonly<Record<SaidStart['kind'], (tx: Tx, said: SaidStart) => Promise<string[]>>> = {
  lot: (tx, said) => lotsOfId(tx, said.lotId),
  complaint: (tx, said) => lotsOfId(tx, said.lotId),
  'likely-swap': (tx, said) => lotsOfId(tx, said.lotId),
  'supplier-lot': lotsOfCode,
  'supplier-period': lotsOfSupplierPeriod,
  'item-period': lotsOfItemPeriod,
  batch: lotsOfBatch,
  'packing-run': lotsOfRun,
  'machine-period': lotsOfMachine,
  'person-period': lotsOfPerson,
  'place-period': lotsOfPlacePeriod,
  dispatch: lotsOfDispatch,
  excursion: (tx, said) => lotIdsOfExcursion(tx, String(said.excursionId)),
  'undeclared-allergen': lotsOfAllergen,
};

/** The lots that a starting point names as things are known now. */
export async function lotsOfStart(tx: Tx, said: SaidStart): Promise<string[]> {
  return [...new Set(await LOTS_OF[said.kind](tx, said))].sort();
}

/** @param first position of the first one in its case */
export async function matchStarts(tx: Tx, asked: readonly StartAsked[], first = 1): Promise<MatchedStart[]> {
  const matched: MatchedStart[] = [];
  for (const [at, start] of asked.entries()) {
    const said = await sayWithIds(tx, at, start);
    const lotIds = said === null ? [] : await lotsOfStart(tx, said);
    if (said === null || lotIds.length === 0) throw nothing(at);
    matched.push({ position: first + at, said, lotIds });
  }
  return matched;
}

function nothing(at: number): Refused {
  const detail = `Starting point ${at + 1} matches no lot.`;
  return new Refused('starts-match-nothing', detail, {
    errors: [{ detail, pointer: `#/starts/${at}` }],
    members: { matches: [] },
  });
}

/** The same starting point with the ids of what it names; null when there is no such thing. */
async function sayWithIds(tx: Tx, at: number, start: StartAsked): Promise<SaidStart | null> {
  if ('from' in start && start.from !== undefined && start.to !== undefined) {
    requirePeriod(at, fromInstant(start.from), fromInstant(start.to));
  }
  switch (start.kind) {
    case 'lot':
      return withId(start, 'lotId', eitherOr(at, start.lotId, start.lotCode), (code) => findLotIdByCode(tx, code));
    case 'complaint':
      return withId(start, 'lotId', { code: start.lotCode }, (code) => findLotIdByCode(tx, code));
    case 'batch':
      return withId(start, 'batchId', eitherOr(at, start.batchId, start.batchCode), (code) => findBatchId(tx, code));
    case 'dispatch':
      return withId(start, 'dispatchId', eitherOr(at, start.dispatchId, start.dispatchCode), (code) =>
        findDispatchId(tx, code),
      );
    case 'supplier-lot': {
      if (start.supplierId !== undefined && start.supplier !== undefined) {
        throw startRefusal(at, '', `Starting point ${at + 1}: give supplierId or supplier, not both.`);
      }
      const owner = await ownerOfCode(tx, at, start);
      return { ...start, ...owner, supplierLotKey: await supplierLotKey(tx, start.supplierLotCode) };
    }
    case 'machine-period': {
      const whole = start.from !== undefined && start.to !== undefined;
      if (start.sinceCleanDown !== undefined) fromInstant(start.sinceCleanDown);
      if ((start.from === undefined) !== (start.to === undefined) || whole === (start.sinceCleanDown !== undefined)) {
        throw startRefusal(at, '', `Starting point ${at + 1}: give from and to, or sinceCleanDown.`);
      }
      return start;
    }
    default:
      return start;
  }
}

type Named = { readonly id: string } | { readonly code: string };

function eitherOr(at: number, id: string | undefined, code: string | undefined): Named {
  if (id !== undefined && code === undefined) return { id };
  if (code !== undefined && id === undefined) return { code };
  throw startRefusal(at, '', `Starting point ${at + 1}: give the id or the code, one of them.`);
}

async function withId(
  start: StartAsked,
  field: string,
  named: Named,
  find: (code: string) => Promise<string | null>,
): Promise<SaidStart | null> {
  const id = 'id' in named ? named.id : await find(named.code);
  return id === null ? null : { ...start, [field]: id };
}
