/** Loads what the walk of domain/yields/embedded.ts needs, up to a cut. Refusal: `period-too-long`, when too many lots stand behind it. */
import { Refused } from '../../../domain/errors.ts';
import { groupBy } from '../../../domain/grouping.ts';
import { chainOf, type ChainRow, type LotFate, type MadeLot } from '../../../domain/yields/chain.ts';
import { embeddedMasses, type Embedded, type WalkedLot, type WalkedProcess } from '../../../domain/yields/embedded.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listWithAncestors, type Cut } from '../../ledger/index.ts';
import { listOutputsOf } from '../costs/facts-store.ts';
import {
  listConverted,
  listFates,
  listMadeLots,
  listWalkBatches,
  listWalkLots,
  listWalkTakings,
  type WalkLotRow,
} from './walk-queries.ts';
import type { YieldsAsked } from './queries.ts';

/** Lots behind one answer. */
const MOST_LOTS = 100_000;

function tooManyLots(pointer: string): Refused {
  const detail = `More than ${MOST_LOTS} lots stand behind that period. Ask for a shorter one, or for one site.`;
  return new Refused('period-too-long', detail, { errors: [{ detail, pointer }] });
}

const walked = (row: WalkLotRow): WalkedLot => ({
  lotId: row.lotId,
  quantity: BigInt(row.quantity),
  massMg: BigInt(row.massMg),
  food: !row.packaging,
  bought: row.madeBy === null && row.origin !== 'pseudo' && row.lotTracked && !row.packaging,
  madeBy: row.madeBy,
  producedQuantity: BigInt(row.producedQuantity),
});

/**
 * The masses behind one unit of each of these lots.
 * @throws Refused `period-too-long` when more than 100,000 lots lead to them
 */
async function loadEmbedded(tx: Tx, lotIds: readonly string[], cut: Cut): Promise<ReadonlyMap<string, Embedded>> {
  const behind = await listWithAncestors(tx, lotIds, MOST_LOTS + 1);
  if (behind.length > MOST_LOTS) throw tooManyLots('#/query');
  const rows = await listWalkLots(tx, behind, cut);
  const kinds = new Map(rows.flatMap((row) => (row.madeBy === null ? [] : [[row.madeBy, kindOf(row)] as const])));
  const processIds = [...kinds.keys()];
  // What else came out of the same process has its share of what went in.
  const seen = new Set(behind);
  const beside = (await listOutputsOf(tx, processIds)).filter((lotId) => !seen.has(lotId));
  const lots = new Map([...rows, ...(await listWalkLots(tx, beside, cut))].map((row) => [row.lotId, walked(row)]));
  const takings = groupBy(await listWalkTakings(tx, behind, processIds, cut), (taking) => taking.processId);
  const batches = new Map((await listWalkBatches(tx, processIds, cut)).map((batch) => [batch.batchId, batch]));
  const processes = [...kinds].map(([processId, kind]): [string, WalkedProcess] => {
    const batch = batches.get(processId);
    const taken = (takings.get(processId) ?? []).map(({ lotId, quantity }) => ({ lotId, quantity: BigInt(quantity) }));
    return [processId, { kind, steps: batch?.steps ?? [], trimMg: BigInt(batch?.trimMg ?? 0), takings: taken }];
  });
  return embeddedMasses(lots, new Map(processes));
}

const kindOf = ({ origin }: WalkLotRow): WalkedProcess['kind'] =>
  origin === 'produced' ? 'batch' : origin === 'packed' ? 'packing' : 'conversion';

/**
 * What was made in a period, from what was bought for it to what has become of it by the cut.
 * @throws Refused `period-too-long`
 */
export async function loadChain(tx: Tx, asked: YieldsAsked, cut: Cut): Promise<ChainRow[]> {
  const madeIds = await listMadeLots(tx, asked, cut, MOST_LOTS + 1);
  if (madeIds.length > MOST_LOTS) throw tooManyLots('#/query/fromDate');
  const converted = await listConverted(tx, madeIds);
  const allIds = [...madeIds, ...converted.map(({ lotId }) => lotId)];
  const rows = new Map((await listWalkLots(tx, allIds, cut)).map((row) => [row.lotId, row]));
  const made = madeIds.flatMap((lotId): MadeLot[] => {
    const row = rows.get(lotId);
    const { itemId, itemName, portionsPerUnit } = row ?? {};
    if (!row || itemId === undefined || itemName === undefined) return [];
    return [{ ...walked(row), itemId, itemName, portionsPerUnit: portionsPerUnit ?? null }];
  });
  const convertedFrom = new Map(
    [...groupBy(converted, ({ fromLotId }) => fromLotId)].map(([fromLotId, into]) => [
      fromLotId,
      into.flatMap(({ lotId }) => {
        const row = rows.get(lotId);
        return row ? [walked(row)] : [];
      }),
    ]),
  );
  const embedded = await loadEmbedded(tx, madeIds, cut);
  return chainOf({ made, fates: await loadFates(tx, allIds, cut), convertedFrom, embedded });
}

/** With what is left in stock: what was produced less all that went. */
async function loadFates(tx: Tx, lotIds: readonly string[], cut: Cut): Promise<LotFate[]> {
  const rows = await listFates(tx, lotIds, cut);
  const left = [...groupBy(rows, ({ lotId }) => lotId)].map(([lotId, own]): LotFate => {
    const quantity = own.reduce((sum, row) => sum - BigInt(row.quantity), 0n);
    return { lotId, fate: 'stock', quantity };
  });
  const went = rows.flatMap(({ lotId, fate, quantity }): LotFate[] =>
    fate === 'produced' || fate === 'convertedOn' ? [] : [{ lotId, fate, quantity: BigInt(quantity) }],
  );
  return [...went, ...left];
}
