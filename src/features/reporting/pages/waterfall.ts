/**
 * Where the money went: from what stood, was bought and was added, to what was served, lost and is left. Making turns goods into goods, so
 * what went into it and what came out cancel, but for what was added and lost there:
 * opening + work at the start + received + returned + transferred in + later prices (of stock and of making) + added + found
 *   = served + other uses + wasted + lost in making + sent away + work at the end + closing.
 * It is the report's sum of money and its sum of making put together. Pure.
 */
import type { MonthReportAnswer } from '../month/shapes.ts';

export interface Step {
  readonly label: string;
  readonly side: 'in' | 'out';
  /** what one would rather not have had */
  readonly loss: boolean;
  /** minor units, as it adds to its side */
  readonly minor: number;
}

const LOSSES: readonly string[] = ['Wasted', 'Lost in making beyond plan', 'Missing in counts'];

/** Steps with nothing in them are left out. In minus out is zero. */
export function moneySteps({ totals: { inMoney: m }, making }: MonthReportAnswer): Step[] {
  const ins: [string, number][] = [
    ['Stock at the start', m.opening],
    ['In open batches at the start', making.workInProcessOpening],
    ['Received', m.received],
    ['Labour, energy and overheads', making.added],
    ['Back from service', m.returnedIn],
    ['From other sites', m.transferIn],
    ['Later prices', m.revalued + making.revalued],
    ['Found by counts', Math.max(0, m.adjusted)],
  ];
  const outs: [string, number][] = [
    ['Served', m.served + m.servedDerived],
    ['Staff, donated, tasted, laboratory', m.staffMeals + m.donated + m.tasted + m.sampled],
    ['Wasted', m.wasted],
    ['Lost in making beyond plan', making.abnormalLoss],
    ['Missing in counts', Math.max(0, -m.adjusted)],
    ['Back to supplier', m.returnedToSupplier],
    ['To other sites', m.transferOut],
    ['In open batches at the end', making.workInProcessClosing],
    ['Stock at the end', m.closing],
  ];
  const steps = [
    ...ins.map(([label, minor]): Step => ({ label, side: 'in', loss: false, minor })),
    ...outs.map(([label, minor]): Step => ({ label, side: 'out', loss: LOSSES.includes(label), minor })),
  ];
  const sum = (side: Step['side']): number => steps.reduce((all, one) => all + (one.side === side ? one.minor : 0), 0);
  // Nothing, when the sums of the report hold for the same sites; said rather than hidden if not.
  const rest = sum('in') - sum('out');
  const all: readonly Step[] = [...steps, { label: 'Not placed', side: 'out', loss: true, minor: rest }];
  return all.filter(({ minor }) => minor !== 0);
}
