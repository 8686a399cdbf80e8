/**
 * What stands behind one unit of a lot, walked down from what was bought through every batch, packing run and conversion, exactly. Why: a
 * kilogram on a plate was more on the van that brought it, and where it went is what a kitchen can act on.
 *
 * Per lot four masses:
 *   bought    what was bought for it, with all that was lost on the way (what is left in it of what was bought is in the costs)
 *   prepared  what it weighed when it had been prepared: inputs less trim, or the outputs of a batch that only prepares
 *   cooked    what it weighed after the last cooking (or preparing, if nothing cooks it)
 *   packed    what it weighed after the last batch or packing run
 * Each output carries its share of its process by mass. Something that was bought and never prepared weighs what it weighed when it came, at
 * every stage. Packaging is no food. Water from the tap has mass and was not bought.
 *
 * A lot that by late entries went into its own origin brings nothing with it there: the circle is cut at the taking that closes it, and lots are
 * walked in the order of their ids, so the answer depends on the facts alone.
 *
 * Refusals: none.
 */
import Fraction from 'fraction.js';
import { sumFractions } from '../exact.ts';
import { groupBy } from '../grouping.ts';

const ZERO = new Fraction(0n);

export interface WalkedLot {
  readonly lotId: string;
  /** at birth: q units weigh q x massMg / quantity */
  readonly quantity: bigint;
  readonly massMg: bigint;
  /** false: packaging */
  readonly food: boolean;
  /** came from outside and is bought food; false for tap water too */
  readonly bought: boolean;
  /** key of the process that made it; null: came from outside */
  readonly madeBy: string | null;
  /** what stands of it as made or received, in units */
  readonly producedQuantity: bigint;
}

export interface WalkedProcess {
  readonly kind: 'batch' | 'packing' | 'conversion';
  readonly steps: readonly string[];
  readonly trimMg: bigint;
  readonly takings: readonly { readonly lotId: string; readonly quantity: bigint }[];
}

type Stage = 'bought' | 'prepared' | 'cooked' | 'packed';
/** Milligrams per unit of the lot. */
export type Embedded = Readonly<Record<Stage, Fraction>>;

const COOKS: readonly string[] = ['cook', 'cook-in-pack', 'pasteurise', 'hot-fill'];

const all = (of: (stage: Stage) => Fraction): Embedded => ({
  bought: of('bought'),
  prepared: of('prepared'),
  cooked: of('cooked'),
  packed: of('packed'),
});
const NOTHING = all(() => ZERO);

const unitMass = (lot: WalkedLot): Fraction => new Fraction(lot.massMg, lot.quantity);

/**
 * The masses behind one unit of each lot.
 * @param lots every lot that leads to one that is asked for; one that is missing brings nothing
 * @param processes by key
 */
export function embeddedMasses(
  lots: ReadonlyMap<string, WalkedLot>,
  processes: ReadonlyMap<string, WalkedProcess>,
): ReadonlyMap<string, Embedded> {
  const outputsOf = groupBy([...lots.values()], (lot) => lot.madeBy);
  const known = new Map<string, Embedded>();
  const walking = new Set<string>();

  /** Lots that have to be known before this one and are not, or are being walked. */
  const waitsFor = (lot: WalkedLot): string[] =>
    (processes.get(lot.madeBy ?? '')?.takings ?? [])
      .map(({ lotId }) => lotId)
      .filter((lotId) => lots.has(lotId) && !known.has(lotId) && !walking.has(lotId));

  function settle(lot: WalkedLot): void {
    const process = lot.madeBy === null ? undefined : processes.get(lot.madeBy);
    if (!process) {
      const mass = lot.food ? unitMass(lot) : ZERO;
      known.set(
        lot.lotId,
        all((stage) => (lot.bought || stage !== 'bought' ? mass : ZERO)),
      );
      return;
    }
    const outputs = (outputsOf.get(lot.madeBy) ?? []).filter((one) => one.food && one.producedQuantity > 0n);
    const outMg = sumFractions(outputs.map((one) => unitMass(one).mul(one.producedQuantity)));
    const inputs = process.takings.flatMap(({ lotId, quantity }) => {
      const from = lots.get(lotId);
      return from?.food ? [{ quantity, mass: unitMass(from), behind: known.get(lotId) ?? NOTHING }] : [];
    });
    if (outMg.n === 0n || !lot.food) return void known.set(lot.lotId, NOTHING);
    const share = unitMass(lot).div(outMg);
    const made = throughProcess(process, inputs, outMg);
    known.set(
      lot.lotId,
      all((stage) => made[stage].mul(share)),
    );
  }

  // By a stack of its own: yesterday's soup in today's makes chains longer than calls may nest.
  for (const first of [...lots.keys()].sort()) {
    const stack = [first];
    for (let lotId = stack.at(-1); lotId !== undefined; lotId = stack.at(-1)) {
      const lot = lots.get(lotId);
      const waits = lot && !known.has(lotId) ? waitsFor(lot).sort() : [];
      walking.add(lotId);
      const [next] = waits;
      if (next !== undefined) {
        stack.push(next);
        continue;
      }
      if (lot && !known.has(lotId)) settle(lot);
      walking.delete(lotId);
      stack.pop();
    }
  }
  return known;
}

interface Input {
  readonly quantity: bigint;
  readonly mass: Fraction;
  readonly behind: Embedded;
}

function throughProcess(process: WalkedProcess, inputs: readonly Input[], outMg: Fraction): Embedded {
  const brought = all((stage) => sumFractions(inputs.map(({ quantity, behind }) => behind[stage].mul(quantity))));
  if (process.kind === 'conversion') return brought;
  const inMg = sumFractions(inputs.map(({ quantity, mass }) => mass.mul(quantity)));
  const prepares = process.kind === 'batch' && process.steps.includes('prepare');
  const cooks = process.kind === 'batch' && process.steps.some((step) => COOKS.includes(step));
  if (!prepares && !cooks) return { ...brought, packed: outMg };
  const trimmed = inMg.sub(new Fraction(process.trimMg));
  const prepared = !prepares ? brought.prepared : cooks ? trimmed : outMg;
  return { bought: brought.bought, prepared: prepared.s < 0n ? ZERO : prepared, cooked: outMg, packed: outMg };
}
