/** What is in open batches at both ends of a month, what its batches were charged by rates, and what was lost: site by site. */
import { batchesFine, type BatchesFine, type MakingFine, type MakingPrices } from '../../../domain/month/making.ts';
import { lineOf } from '../../../domain/month/lines.ts';
import type { LateFlow } from '../../../domain/month/late.ts';
import { monthsOn } from '../../../domain/month/periods.ts';
import { fineOn, type Tally } from '../../../domain/month/tally.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findUnitCosts, loadCostBatches, ratesSummed, type CostView } from '../costs/index.ts';
import { listTapped } from './tapped.ts';
import { listMakingRows, type BatchQuestion } from './queries.ts';

type Books = ReadonlyMap<string, ReadonlyMap<string, Tally>>;

/** @param opened costs that the opening is valued at, when the month before is closed; null: as now */
async function readBatchesFine(
  tx: Tx,
  asked: BatchQuestion,
  costs: CostView,
  opened: CostView | null,
): Promise<Map<string, BatchesFine>> {
  const rows = await listMakingRows(tx, asked, opened?.cut.seq ?? null);
  const lotIds = [...new Set(rows.map((row) => row.lotId))];
  const batchIds = [...new Set(rows.map((row) => row.batchId))];
  const pricesAt = async (view: CostView): Promise<MakingPrices> => {
    const units = await findUnitCosts(tx, view, lotIds);
    const batches = await loadCostBatches(tx, view.cut, batchIds);
    return {
      unitFineOf: (lotId) => units.get(lotId)?.unitFine ?? 0n,
      ratesOf: (batchId) => ratesSummed(batches.get(batchId)),
    };
  };
  const now = await pricesAt(costs);
  const then = opened === null ? now : await pricesAt(opened);
  const { month, throughMonth } = asked;
  return batchesFine(rows, now, then, { before: monthsOn(month, -1), throughMonth });
}

/** What had gone into processes before the month, less what had come out of them, became worth so much more: by book. */
function revaluedOf(earlier: readonly LateFlow[]): Map<string, bigint> {
  const sums = new Map<string, bigint>();
  for (const flow of earlier) {
    const book = flow.to.book ?? flow.from.book;
    if (book === null || (flow.to.book !== null && flow.from.book !== null)) continue;
    const { line, sign } = lineOf(flow, flow.to.book !== null);
    if (line !== 'consumed' && line !== 'produced') continue;
    const fine = BigInt(sign) * flow.fine;
    sums.set(book, (sums.get(book) ?? 0n) + (line === 'consumed' ? fine : -fine));
  }
  return sums;
}

/** What went in without ever standing in stock, by site: added in the months asked for, and what later prices changed before. */
async function readTapped(tx: Tx, asked: BatchQuestion, costs: CostView, opened: CostView | null) {
  const rows = await listTapped(tx, asked);
  const lotIds = [...new Set(rows.map((row) => row.lotId))];
  const now = await findUnitCosts(tx, costs, lotIds);
  const then = opened === null ? now : await findUnitCosts(tx, opened, lotIds);
  const sums = new Map<string, { readonly added: bigint; readonly revalued: bigint }>();
  for (const { siteId, lotId, before, within } of rows) {
    const fine = now.get(lotId)?.unitFine ?? 0n;
    const change = fine - (then.get(lotId)?.unitFine ?? 0n);
    const sum = sums.get(siteId) ?? { added: 0n, revalued: 0n };
    sums.set(siteId, {
      added: sum.added + BigInt(within) * fine,
      revalued: sum.revalued + BigInt(before) * change,
    });
  }
  return sums;
}

const sumOf = (tallies: ReadonlyMap<string, Tally> | undefined, line: 'consumed' | 'produced'): bigint =>
  [...(tallies?.values() ?? [])].reduce((sum, tally) => sum + fineOn(tally, line), 0n);

/** Of each book in scope: batches belong to their site, what went in and came out to the place where it stood. */
export async function readMaking(
  tx: Tx,
  asked: BatchQuestion,
  costs: CostView,
  opened: CostView | null,
  { books, earlier, isIn }: { books: Books; earlier: readonly LateFlow[]; isIn: (book: string) => boolean },
): Promise<Map<string, MakingFine>> {
  const batches = await readBatchesFine(tx, asked, costs, opened);
  const revalued = revaluedOf(earlier);
  const tapped = await readTapped(tx, asked, costs, opened);
  const named = [...new Set([...books.keys(), ...batches.keys(), ...revalued.keys(), ...tapped.keys()])]
    .filter(isIn)
    .sort();
  return new Map(
    named.map((book): [string, MakingFine] => {
      const own = batches.get(book);
      const moved = books.get(book);
      const tap = tapped.get(book);
      return [
        book,
        {
          opening: own?.opening ?? 0n,
          revalued: (revalued.get(book) ?? 0n) + (own?.revalued ?? 0n) + (tap?.revalued ?? 0n),
          consumed: sumOf(moved, 'consumed'),
          added: (own?.added ?? 0n) + (tap?.added ?? 0n),
          produced: sumOf(moved, 'produced'),
          closing: own?.closing ?? 0n,
        },
      ];
    }),
  );
}
