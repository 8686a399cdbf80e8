/**
 * What went into making food, and where that is: consumed and added to = produced, lost beyond the plan, still in open batches.
 *
 * Work in process is what stands in batches that were not complete by the end of a month: what went in and was added by then, less what had
 * come out. Rates are added as the work is done: what is said for the batch in the month in which something first stands in it, what is said
 * for each kilogram in the months in which its output came out. What later prices and rates changed in what had moved before the month is a
 * line of its own. The loss beyond the plan is what is left when the rest is known, so that the account adds up to the last minor unit.
 *
 * Refusals: none.
 */
import { addedFine, type BatchRates } from '../costing/process.ts';
import { roundedQuotient, roundTogether } from '../exact.ts';
import { groupBy } from '../grouping.ts';
import { FINE_PER_MINOR } from './printed.ts';

/** What one batch took or gave of one lot in one month of the books, reversals netted. */
export interface MakingFlow {
  readonly batchId: string;
  readonly siteId: string;
  readonly lotId: string;
  readonly side: 'input' | 'output';
  readonly period: string;
  /** month of the books of its completion; null: not complete yet */
  readonly completedPeriod: string | null;
  readonly quantity: number;
  /** at the lot's birth */
  readonly lotQuantity: number;
  readonly lotMassMg: number;
}

/** What lots cost and which rates batches carry, as known at one cut. */
export interface MakingPrices {
  readonly unitFineOf: (lotId: string) => bigint;
  readonly ratesOf: (batchId: string) => BatchRates;
}

/** In fine units; they add: of a site, or of all of them. */
export interface MakingFine {
  readonly opening: bigint;
  readonly revalued: bigint;
  readonly consumed: bigint;
  readonly added: bigint;
  readonly produced: bigint;
  readonly closing: bigint;
}

/** What the batches of a site say of it; the rest is said by what moved in its books. */
export type BatchesFine = Pick<MakingFine, 'opening' | 'revalued' | 'added' | 'closing'>;

interface Standing {
  readonly side: MakingFlow['side'];
  readonly lotId: string;
  readonly quantity: number;
  readonly massMg: number;
  readonly stands: number;
}

/** Of one batch: what had gone in and come out by the end of a month, lot by lot; a lot that was all undone is left out. */
function standingThrough(flows: readonly MakingFlow[], throughMonth: string): Standing[] {
  const by = groupBy(
    flows.filter((flow) => flow.period <= throughMonth),
    (flow) => `${flow.side}|${flow.lotId}`,
  );
  return [...by.values()].flatMap((own) => {
    const stands = own.reduce((sum, flow) => sum + flow.quantity, 0);
    const [first] = own;
    if (!first || stands === 0) return [];
    const { side, lotId, lotQuantity, lotMassMg } = first;
    return [{ side, lotId, quantity: lotQuantity, massMg: lotMassMg, stands }];
  });
}

const rated = (standing: readonly Standing[], rates: BatchRates): bigint =>
  addedFine(
    rates,
    standing.length > 0,
    standing.filter((one) => one.side === 'output'),
  );

const worth = (standing: readonly Standing[], unitFineOf: MakingPrices['unitFineOf']): bigint =>
  standing.reduce((sum, { side, lotId, stands }) => {
    const fine = BigInt(stands) * unitFineOf(lotId);
    return side === 'input' ? sum + fine : sum - fine;
  }, 0n);

const NOTHING: BatchesFine = { opening: 0n, revalued: 0n, added: 0n, closing: 0n };

/**
 * By site. `revalued` is here of rates alone: what lots became worth more is seen from where they moved.
 * @param flows all of each batch through `throughMonth`
 * @param now at the report's cut
 * @param then what the month before was closed with; `now` where it is not closed
 * @param before the month before the first one
 */
export function batchesFine(
  flows: readonly MakingFlow[],
  now: MakingPrices,
  then: MakingPrices,
  { before, throughMonth }: { readonly before: string; readonly throughMonth: string },
): Map<string, BatchesFine> {
  const sites = new Map<string, BatchesFine>();
  for (const [batchId, own] of groupBy(flows, (flow) => flow.batchId)) {
    const [first] = own;
    if (!first) continue;
    const { siteId, completedPeriod } = first;
    const openAfter = (month: string): boolean => completedPeriod === null || completedPeriod > month;
    const [early, all] = [standingThrough(own, before), standingThrough(own, throughMonth)];
    const [ratesNow, ratesThen] = [now.ratesOf(batchId), then.ratesOf(batchId)];
    const [addedBefore, addedThen] = [rated(early, ratesNow), rated(early, ratesThen)];
    const addedAll = rated(all, ratesNow);
    const sum = sites.get(siteId) ?? NOTHING;
    sites.set(siteId, {
      opening: sum.opening + (openAfter(before) ? worth(early, then.unitFineOf) + addedThen : 0n),
      revalued: sum.revalued + addedBefore - addedThen,
      added: sum.added + addedAll - addedBefore,
      closing: sum.closing + (openAfter(throughMonth) ? worth(all, now.unitFineOf) + addedAll : 0n),
    });
  }
  return sites;
}

/** What was lost beyond the plan. */
const lossFine = ({ opening, revalued, consumed, added, produced, closing }: MakingFine): bigint =>
  opening + revalued + consumed + added - produced - closing;

export interface Making {
  readonly workInProcessOpening: number;
  readonly revalued: number;
  readonly consumed: number;
  readonly added: number;
  readonly produced: number;
  readonly abnormalLoss: number;
  readonly abnormalLossAtNoSite: number;
  readonly workInProcessClosing: number;
}

/** Unit costs are rounded down to whole fine units: what that leaves over of a process is far below this, and is no loss. */
const DUST_FINE = 10n ** 12n;

const minorOf = (fine: bigint): number => Number(roundedQuotient(fine, FINE_PER_MINOR));

function withoutDust(fine: bigint): bigint {
  const whole = roundedQuotient(fine, FINE_PER_MINOR) * FINE_PER_MINOR;
  const off = fine - whole;
  return off < DUST_FINE && off > -DUST_FINE ? whole : fine;
}

/**
 * As printed. The losses of sites are rounded by largest remainder to the loss of all; what is then left, because the rows of items are
 * rounded each by itself, is at no site.
 * @param printed what the totals of the items say
 * @param sites of each book
 */
export function makingOf(
  printed: { readonly consumed: number; readonly produced: number },
  sites: ReadonlyMap<string, MakingFine>,
): { readonly making: Making; readonly lossOf: ReadonlyMap<string, number> } {
  const sum = (pick: (one: MakingFine) => bigint): number =>
    minorOf([...sites.values()].reduce((total, one) => total + pick(one), 0n));
  const { consumed, produced } = printed;
  const workInProcessOpening = sum((one) => one.opening);
  const revalued = sum((one) => one.revalued);
  const added = sum((one) => one.added);
  const workInProcessClosing = sum((one) => one.closing);
  const abnormalLoss = workInProcessOpening + revalued + consumed + added - produced - workInProcessClosing;
  const losses = printedLosses([...sites.values()].map(lossFine), abnormalLoss);
  const abnormalLossAtNoSite = abnormalLoss - losses.reduce((total, one) => total + one, 0);
  return {
    making: {
      workInProcessOpening,
      revalued,
      consumed,
      added,
      produced,
      abnormalLoss,
      abnormalLossAtNoSite,
      workInProcessClosing,
    },
    lossOf: new Map([...sites.keys()].map((site, at) => [site, losses[at] ?? 0])),
  };
}

/** Each rounded up or down, so that they come as near to the total as that allows; whole ones are left alone. */
function printedLosses(losses: readonly bigint[], total: number): number[] {
  const exact = losses.map(withoutDust);
  const floors = exact.map(
    (fine) => (fine - (((fine % FINE_PER_MINOR) + FINE_PER_MINOR) % FINE_PER_MINOR)) / FINE_PER_MINOR,
  );
  const least = floors.reduce((sum, one) => sum + one, 0n);
  const most = least + BigInt(exact.filter((fine, at) => fine !== (floors[at] ?? 0n) * FINE_PER_MINOR).length);
  const wanted = BigInt(total);
  const within = wanted < least ? least : wanted > most ? most : wanted;
  return roundTogether(exact, FINE_PER_MINOR, within).map(Number);
}
