/**
 * The reconciliation of a case: what there is to account for, what the ledger explains by itself, what people typed, and what is
 * still open. Everything is exact; nothing is rounded but the percentage, downward, so that 100 is said only when it is all.
 *
 * Per lot: produced = onHand + inTransit + served + wasted + returned + consumed + unexplained. What was put into another lot of
 * the scope is counted there, once; what was put into a batch from which nothing came is `inProcess`. To account for is what was
 * produced less what is counted elsewhere. Per lot and site, `toType` is what people have to say something about: what is there,
 * on its way there, missing there or in a pot there. `open` is toType less what was typed, never below zero.
 *
 * Answered is what there is to account for less what is open. Where more left a place than was booked there, or counts found more
 * than was made, the sum of what is to be typed is more than what is left to explain; then the open line counts, not the surplus
 * elsewhere. Accounted for is answered less what was looked for and not found. Refusals: none.
 */
import Fraction from 'fraction.js';
import { exactJson, largestRemainder, massOfMg } from '../exact.ts';

export interface AccountLot {
  readonly lotId: string;
  readonly unit: string;
  /** at birth, above zero */
  readonly quantity: number;
  readonly massMg: number;
}

/** What the ledger says of one lot at one site, in the lot's unit; what is on the road stands at the site that it is going to. */
export interface AccountPart {
  readonly lotId: string;
  readonly siteId: string;
  readonly onHand: number;
  /** of onHand: in places of quarantine */
  readonly inQuarantine: number;
  readonly inTransit: number;
  readonly served: number;
  readonly wasted: number;
  /** to the supplier */
  readonly returned: number;
  readonly consumed: number;
  /** of consumed: in a batch from which no lot came */
  readonly inProcess: number;
  /** found missing by counts; below zero: found over */
  readonly unexplained: number;
}

/** What a site said of one lot. What was recorded in the ledger with it is explained there; quarantine is said and moved. */
export interface AccountSaid {
  readonly lotId: string;
  readonly siteId: string;
  readonly found: number;
  readonly quarantined: number;
  readonly destroyed: number;
  /** of destroyed: discarded in the ledger by the same answer */
  readonly destroyedPosted: number;
  readonly returned: number;
  /** what went off from the site since the lot came into the scope, on its way back */
  readonly leftSince: number;
  readonly alreadyServed: number;
  readonly alreadyServedPosted: number;
  readonly notFound: number;
}

interface Typed {
  readonly found: number;
  readonly quarantined: number;
  readonly destroyed: number;
  readonly returned: number;
  readonly alreadyServed: number;
  readonly notFound: number;
}

export interface AccountLine {
  readonly lotId: string;
  readonly siteId: string;
  readonly unit: string;
  readonly onHand: number;
  readonly inTransit: number;
  readonly unexplained: number;
  readonly inProcess: number;
  readonly toType: number;
  readonly typed: Typed;
  readonly open: number;
}

export interface UnitSums extends Typed {
  readonly unit: string;
  readonly lotCount: number;
  readonly produced: number;
  readonly consumedInScope: number;
  readonly inProcess: number;
  readonly onHand: number;
  readonly inTransit: number;
  readonly served: number;
  readonly wasted: number;
  readonly returnedToSupplier: number;
  readonly unexplained: number;
  readonly toAccountFor: number;
  readonly open: number;
}

/** Exact, in lowest terms; `percent` has one decimal and is rounded down. */
export interface Share {
  readonly numerator: string;
  readonly denominator: string;
  readonly percent: number;
}

/** Grams with three decimals. The lines add up: accounted + not found + open = to account for. */
interface Figures {
  readonly toAccountForG: string;
  readonly answeredG: string;
  readonly accountedG: string;
  readonly notFoundG: string;
  readonly openG: string;
  readonly answeredShare: Share;
  readonly accountedShare: Share;
}

export interface Account {
  readonly figures: Figures;
  readonly byUnit: readonly UnitSums[];
  /** where there is something to type, or was typed; in the order of the parts */
  readonly lines: readonly AccountLine[];
}

const NOTHING_SAID: Omit<AccountSaid, 'lotId' | 'siteId'> = {
  found: 0,
  quarantined: 0,
  destroyed: 0,
  destroyedPosted: 0,
  returned: 0,
  leftSince: 0,
  alreadyServed: 0,
  alreadyServedPosted: 0,
  notFound: 0,
};

const TYPED = ['found', 'quarantined', 'destroyed', 'returned', 'alreadyServed', 'notFound'] as const;

const keyOf = (row: { readonly lotId: string; readonly siteId: string }): string => `${row.lotId}|${row.siteId}`;

/**
 * One lot at one site. In a real case quarantine counts as far as food stands in quarantine: what was discarded from there since is
 * explained by the ledger and must not cover for something else.
 */
function lineOf(part: AccountPart, unit: string, said: AccountSaid | undefined, drill: boolean): AccountLine {
  const { lotId, siteId, onHand, inTransit, unexplained, inProcess } = part;
  const all = said ?? { lotId, siteId, ...NOTHING_SAID };
  // What left a place unbooked and what a count found missing at the same site are one thing, so they are taken together.
  const here = Math.max(0, onHand + Math.max(0, unexplained));
  const toType = here + Math.max(0, inTransit) + Math.max(0, inProcess);
  const quarantined = drill
    ? all.quarantined
    : Math.min(all.quarantined, Math.max(0, part.inQuarantine) + Math.max(0, inProcess));
  const returned = Math.max(0, all.returned - all.leftSince);
  const statedOnly = all.destroyed - all.destroyedPosted + all.alreadyServed - all.alreadyServedPosted;
  const covered = all.found + quarantined + returned + statedOnly + all.notFound;
  const typed = {
    found: all.found,
    quarantined,
    destroyed: all.destroyed,
    returned: all.returned,
    alreadyServed: all.alreadyServed,
    notFound: all.notFound,
  };
  const open = Math.max(0, toType - covered);
  return { lotId, siteId, unit, onHand, inTransit, unexplained, inProcess, toType, typed, open };
}

/**
 * A sum of masses. Quantities are kept by what a unit weighs, so that tens of thousands of lots of one pack make one fraction, and
 * a thousand catch-weight lots do not make numbers of a thousand digits on the way.
 */
interface MassSum {
  add(quantity: number, lot: AccountLot): void;
  total(): Fraction;
}

function massSum(): MassSum {
  const byUnitMass = new Map<string, { quantity: bigint; readonly lot: AccountLot }>();
  return {
    add(quantity, lot) {
      if (quantity === 0) return;
      const key = `${lot.massMg}/${lot.quantity}`;
      const sum = byUnitMass.get(key);
      if (sum) sum.quantity += BigInt(quantity);
      else byUnitMass.set(key, { quantity: BigInt(quantity), lot });
    },
    total() {
      const byDenominator = new Map<bigint, bigint>();
      for (const { quantity, lot } of byUnitMass.values()) {
        const mass = massOfMg(quantity, BigInt(lot.quantity), BigInt(lot.massMg));
        byDenominator.set(mass.d, (byDenominator.get(mass.d) ?? 0n) + mass.s * mass.n);
      }
      return [...byDenominator].reduce((sum, [below, above]) => sum.add(new Fraction(above, below)), new Fraction(0n));
    },
  };
}

/** Of nothing, all is accounted for. */
function shareOf(part: Fraction, whole: Fraction): Share {
  const share = whole.compare(0) === 0 ? new Fraction(1n) : part.div(whole);
  const thousandths = (share.s * share.n * 1000n) / share.d;
  return { ...exactJson(share), percent: Number(thousandths) / 10 };
}

/** Milligrams as grams with three decimals. */
function grams(mg: bigint): string {
  return `${mg / 1000n}.${String(mg % 1000n).padStart(3, '0')}`;
}

function figuresOf(whole: Fraction, open: Fraction, notFound: Fraction): Figures {
  const answered = whole.sub(open);
  const accounted = answered.sub(notFound);
  const [accountedMg = 0n, notFoundMg = 0n, openMg = 0n] = largestRemainder([accounted, notFound, open]);
  return {
    toAccountForG: grams(accountedMg + notFoundMg + openMg),
    answeredG: grams(accountedMg + notFoundMg),
    accountedG: grams(accountedMg),
    notFoundG: grams(notFoundMg),
    openG: grams(openMg),
    answeredShare: shareOf(answered, whole),
    accountedShare: shareOf(accounted, whole),
  };
}

type Mutable<T> = { -readonly [K in keyof T]: T[K] };

function nothingOf(unit: string): Mutable<UnitSums> {
  const ledger = { produced: 0, consumedInScope: 0, inProcess: 0, onHand: 0, inTransit: 0, served: 0, wasted: 0 };
  const rest = { returnedToSupplier: 0, unexplained: 0, toAccountFor: 0, open: 0 };
  const typed = { found: 0, quarantined: 0, destroyed: 0, returned: 0, alreadyServed: 0, notFound: 0 };
  return { unit, lotCount: 0, ...ledger, ...rest, ...typed };
}

/** All of it but what is counted as another lot of the scope. */
function toAccountForOf(part: AccountPart): number {
  const { onHand, inTransit, served, wasted, returned, inProcess, unexplained } = part;
  return onHand + inTransit + served + wasted + returned + inProcess + unexplained;
}

function addPart(sums: Mutable<UnitSums>, part: AccountPart): void {
  sums.produced += toAccountForOf(part) + part.consumed - part.inProcess;
  sums.toAccountFor += toAccountForOf(part);
  sums.consumedInScope += part.consumed - part.inProcess;
  sums.inProcess += part.inProcess;
  sums.onHand += part.onHand;
  sums.inTransit += part.inTransit;
  sums.served += part.served;
  sums.wasted += part.wasted;
  sums.returnedToSupplier += part.returned;
  sums.unexplained += part.unexplained;
}

/**
 * @param lots the scope
 * @param parts one for each lot and site that the ledger knows of
 * @param said one for each lot and site that was answered for
 * @param drill nothing was recorded in the ledger by the answers
 */
export function accountOf(
  lots: readonly AccountLot[],
  parts: readonly AccountPart[],
  said: readonly AccountSaid[],
  drill: boolean,
): Account {
  const lotById = new Map(lots.map((lot) => [lot.lotId, lot]));
  const saidByKey = new Map(said.map((one) => [keyOf(one), one]));
  const units = new Map<string, Mutable<UnitSums>>();
  const perLot = new Map<string, { toAccountFor: number; open: number; notFound: number }>();
  const lines: AccountLine[] = [];
  for (const { lotId, unit } of lots) {
    perLot.set(lotId, { toAccountFor: 0, open: 0, notFound: 0 });
    const sums = units.get(unit) ?? nothingOf(unit);
    sums.lotCount += 1;
    units.set(unit, sums);
  }
  const known = new Set(said.length === 0 ? [] : parts.map(keyOf));
  // answered for by a site where the ledger knows of none
  const nowhere = said.filter((one) => !known.has(keyOf(one))).map((one) => emptyPart(one.lotId, one.siteId));
  for (const part of [...parts, ...nowhere]) {
    const lot = lotById.get(part.lotId);
    const sums = lot && units.get(lot.unit);
    const tally = perLot.get(part.lotId);
    if (!lot || !sums || !tally) continue;
    const line = lineOf(part, lot.unit, saidByKey.get(keyOf(part)), drill);
    addPart(sums, part);
    for (const name of TYPED) sums[name] += line.typed[name];
    sums.open += line.open;
    tally.toAccountFor += toAccountForOf(part);
    tally.open += line.open;
    tally.notFound += Math.min(line.typed.notFound, line.toType);
    if (line.toType > 0 || TYPED.some((name) => line.typed[name] > 0)) lines.push(line);
  }
  const whole = massSum();
  const open = massSum();
  const notFound = massSum();
  for (const lot of lots) {
    const tally = perLot.get(lot.lotId);
    if (!tally) continue;
    const all = Math.max(0, tally.toAccountFor);
    const openQuantity = Math.min(all, tally.open);
    whole.add(all, lot);
    open.add(openQuantity, lot);
    notFound.add(Math.min(all - openQuantity, tally.notFound), lot);
  }
  const byUnit = [...units.values()].sort((a, b) => (a.unit < b.unit ? -1 : 1));
  return { figures: figuresOf(whole.total(), open.total(), notFound.total()), byUnit, lines };
}

function emptyPart(lotId: string, siteId: string): AccountPart {
  const none = { onHand: 0, inQuarantine: 0, inTransit: 0, served: 0, wasted: 0, returned: 0, consumed: 0 };
  return { lotId, siteId, ...none, inProcess: 0, unexplained: 0 };
}
