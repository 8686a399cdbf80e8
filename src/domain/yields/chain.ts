/**
 * From raw to plate: for each packed or served item, what was bought for what was made in a period, what it weighed at each stage, and what has
 * become of it. Why by what was made: served in a month and bought in a month are different food; here every kilogram served is one of those
 * bought for it, so nothing hangs on what was in stock.
 *
 * Of a lot that was packed on, or made into something else, the rest counts. Conversions at a site (opened, portioned, regenerated) are followed:
 * what is served from an opened pack was served of the pack. bought, prepared, cooked, packed are those of ./embedded.ts.
 *
 * Grams are rounded once: what became of the packed mass adds up to it by largest remainder. Refusals: none.
 */
import Fraction from 'fraction.js';
import { largestRemainder, roundHalfAwayFromZero, sumFractions } from '../exact.ts';
import { groupBy } from '../grouping.ts';
import type { Embedded, WalkedLot } from './embedded.ts';

const ZERO = new Fraction(0n);
const MG_PER_G = 1000n;

/** Where units of a lot went, net of what was undone; `stock` is what is there. */
export type Fate = 'served' | 'otherUse' | 'wasted' | 'adjusted' | 'madeOn' | 'packedOn' | 'returned' | 'stock';
const SEEN = ['served', 'otherUse', 'wasted', 'madeOn', 'stock'] as const;

export interface LotFate {
  readonly lotId: string;
  readonly fate: Fate;
  readonly quantity: bigint;
}

export interface MadeLot extends WalkedLot {
  readonly itemId: string;
  readonly itemName: string;
  /** portions that a unit is; null: nobody said */
  readonly portionsPerUnit: number | null;
}

export interface ChainRow {
  readonly itemId: string;
  readonly itemName: string;
  readonly boughtG: number;
  readonly preparedG: number;
  readonly cookedG: number;
  /** what was made and not packed on: packs, or food served as it was made */
  readonly packedG: number;
  readonly servedG: number;
  readonly otherUseG: number;
  readonly wastedG: number;
  /** became part of other food */
  readonly madeOnG: number;
  readonly stockG: number;
  /** found missing by counts, given back, or weighed differently when it was opened; packedG less all the above */
  readonly differenceG: number;
  readonly portionsServed: number | null;
  readonly portionsPerKgBought: number | null;
  readonly servedPercentOfBought: number | null;
}

export interface ChainFacts {
  /** made in the period */
  readonly made: readonly MadeLot[];
  readonly fates: readonly LotFate[];
  /** lots by which lot they were converted from */
  readonly convertedFrom: ReadonlyMap<string, readonly WalkedLot[]>;
  readonly embedded: ReadonlyMap<string, Embedded>;
}

type Masses = Record<(typeof SEEN)[number], Fraction>;

/** One row an item that something was made of, by name; lots of which nothing is left to tell are left out. */
export function chainOf({ made, fates, convertedFrom, embedded }: ChainFacts): ChainRow[] {
  const fatesOf = groupBy(fates, (fate) => fate.lotId);
  const fate = (lotId: string, kind: Fate): bigint =>
    (fatesOf.get(lotId) ?? []).reduce((sum, one) => (one.fate === kind ? sum + one.quantity : sum), 0n);

  function becameOf(lot: WalkedLot): Masses {
    const unit = new Fraction(lot.massMg, lot.quantity);
    const later = (convertedFrom.get(lot.lotId) ?? []).map(becameOf);
    const of = (kind: (typeof SEEN)[number]) =>
      sumFractions([unit.mul(fate(lot.lotId, kind)), ...later.map((masses) => masses[kind])]);
    return {
      served: of('served'),
      otherUse: of('otherUse'),
      wasted: of('wasted'),
      madeOn: of('madeOn'),
      stock: of('stock'),
    };
  }

  const rows = made.flatMap((lot) => {
    const quantity = lot.producedQuantity - fate(lot.lotId, 'packedOn');
    if (quantity <= 0n) return [];
    const behind = embedded.get(lot.lotId);
    const unit = new Fraction(lot.massMg, lot.quantity);
    const stage = (masses: Fraction | undefined) => (masses ?? ZERO).mul(quantity);
    const became = becameOf(lot);
    const portions = lot.portionsPerUnit === null ? null : became.served.div(unit).mul(BigInt(lot.portionsPerUnit));
    return [
      {
        lot,
        bought: stage(behind?.bought),
        prepared: stage(behind?.prepared),
        cooked: stage(behind?.cooked),
        packed: unit.mul(quantity),
        became,
        portions,
      },
    ];
  });
  const byItem = groupBy(rows, ({ lot }) => lot.itemId);
  return [...byItem.values()]
    .map((own): ChainRow => {
      const [{ lot }] = own as [(typeof own)[number]];
      const sum = (pick: (row: (typeof own)[number]) => Fraction) => sumFractions(own.map(pick));
      const bought = sum((row) => row.bought);
      const served = sum((row) => row.became.served);
      const packed = sum((row) => row.packed);
      const seen = SEEN.map((kind) => sum((row) => row.became[kind]));
      const difference = packed.sub(sumFractions(seen));
      // packed = all that became of it: one signed row
      const row = largestRemainder([packed, ...seen.map((mass) => mass.neg()), difference.neg()], MG_PER_G);
      const grams = row.map((mg, at) => (at === 0 ? Number(mg / MG_PER_G) : 0 - Number(mg / MG_PER_G)));
      const [packedG = 0, servedG = 0, otherUseG = 0, wastedG = 0, madeOnG = 0, stockG = 0, differenceG = 0] = grams;
      const portions = own.some((one) => one.portions === null) ? null : sum((one) => one.portions ?? ZERO);
      return {
        itemId: lot.itemId,
        itemName: lot.itemName,
        boughtG: grammes(bought),
        preparedG: grammes(sum((one) => one.prepared)),
        cookedG: grammes(sum((one) => one.cooked)),
        packedG,
        servedG,
        otherUseG,
        wastedG,
        madeOnG,
        stockG,
        differenceG,
        portionsServed: portions && hundredths(portions),
        portionsPerKgBought: portions && bought.n !== 0n ? hundredths(portions.mul(1_000_000n).div(bought)) : null,
        servedPercentOfBought: bought.n === 0n ? null : tenths(served.div(bought).mul(100n)),
      };
    })
    .sort((a, b) => (a.itemName < b.itemName ? -1 : a.itemName > b.itemName ? 1 : a.itemId < b.itemId ? -1 : 1));
}

const grammes = (massMg: Fraction): number => Number(roundHalfAwayFromZero(massMg.div(MG_PER_G)));
const hundredths = (value: Fraction): number => Number(roundHalfAwayFromZero(value.mul(100n))) / 100;
const tenths = (value: Fraction): number => Number(roundHalfAwayFromZero(value.mul(10n))) / 10;
