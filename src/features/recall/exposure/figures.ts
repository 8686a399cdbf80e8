/** The figures of one line of exposure, from the flow that was loaded. Refusals: none. */
import Fraction from 'fraction.js';
import { leastDispersion, linksOf } from '../../../domain/dispersion.ts';
import { roundHalfAwayFromZero } from '../../../domain/exact.ts';
import type { ExposedLot } from '../../../domain/exposure.ts';
import { minorUnits } from '../../../domain/purchase-value.ts';
import type { Flow, FlowLot, Stand, StandKind } from '../flows.ts';
import type { ExposureLineAnswer } from './contract.ts';

const THERE = new Set<StandKind>(['place', 'transit', 'in-process']);
const GONE = new Set<StandKind>(['served', 'waste']);

const isPack = (lot: FlowLot): boolean => lot.itemKind === 'packed' && lot.unit === 'piece';

function quantityIn(stands: readonly Stand[], kinds: ReadonlySet<StandKind>): number {
  return stands.reduce((sum, stand) => (kinds.has(stand.kind) ? sum + stand.quantity : sum), 0);
}

export function exposedLot(lot: FlowLot): ExposedLot {
  const counted = lot.stands.filter((stand) => THERE.has(stand.kind) || GONE.has(stand.kind));
  const fine = counted.reduce((sum, stand) => (THERE.has(stand.kind) ? sum + stand.fine : sum), 0n);
  return {
    lotId: lot.lotId,
    packsThere: isPack(lot) ? quantityIn(counted, THERE) : 0,
    packsGone: isPack(lot) ? quantityIn(counted, GONE) : 0,
    valueThere: Number(fine) / 1e9,
    siteIds: [...new Set(counted.map((stand) => stand.siteId))],
  };
}

const wholeG = (microgrammes: bigint): number => Number(roundHalfAwayFromZero(new Fraction(microgrammes, 1_000_000n)));

type Figures = Pick<ExposureLineAnswer, 'packs' | 'portions' | 'massG' | 'valueMinor' | 'unpricedMassG'>;

/** Of the lots that a recall would reach. Mass is summed in whole microgrammes: over a hundred thousand lots less than a gram is lost. */
export function figuresOf(lots: readonly FlowLot[]): Figures {
  const sum = { packs: [0, 0], portions: [0, 0], mass: [0n, 0n], fine: [0n, 0n], unpricedMg: 0n };
  const add = <T>(pair: T[], side: number, value: T, plus: (a: T, b: T) => T) => {
    pair[side] = plus(pair[side] as T, value);
  };
  const number = (a: number, b: number) => a + b;
  const big = (a: bigint, b: bigint) => a + b;
  for (const lot of lots) {
    for (const { kind, quantity, fine, unpricedMg } of lot.stands) {
      const side = THERE.has(kind) ? 0 : 1;
      if (side === 1 && !GONE.has(kind)) continue;
      if (isPack(lot)) {
        add(sum.packs, side, quantity, number);
        add(sum.portions, side, quantity * (lot.portionsPerUnit ?? 0), number);
      }
      add(sum.mass, side, (BigInt(quantity) * BigInt(lot.massMg) * 1000n) / BigInt(lot.quantity), big);
      add(sum.fine, side, fine, big);
      if (side === 0) sum.unpricedMg += unpricedMg;
    }
  }
  const pair = ([there = 0, gone = 0]: readonly number[]) => ({ there, gone });
  return {
    packs: pair(sum.packs),
    portions: pair(sum.portions),
    massG: pair(sum.mass.map(wholeG)),
    valueMinor: pair(minorUnits(sum.fine)),
    unpricedMassG: wholeG(sum.unpricedMg * 1000n),
  };
}

/** What the flow says about each lot, found by lot. */
export interface FlowIndex {
  readonly processesOf: ReadonlyMap<string, ReadonlySet<string>>;
  readonly takenBy: ReadonlyMap<string, ReadonlyMap<string, number>>;
}

export function indexFlow(flow: Flow): FlowIndex {
  const processesOf = new Map<string, Set<string>>();
  for (const { parentLotId, processId } of flow.edges) {
    const processes = processesOf.get(parentLotId) ?? new Set<string>();
    processesOf.set(parentLotId, processes.add(processId));
  }
  const takenBy = new Map<string, Map<string, number>>();
  for (const { lotId, processId, quantity } of flow.takings) {
    const taken = takenBy.get(lotId) ?? new Map<string, number>();
    takenBy.set(lotId, taken.set(processId, (taken.get(processId) ?? 0) + quantity));
  }
  return { processesOf, takenBy };
}

/**
 * Links between raw lots and the processes that they went straight into. For the least, a raw lot holds what those processes took of it and
 * what is there still; a process that took nothing by weight (a lot that only may have been in the bin) has links, but asks for nothing.
 */
export function dispersionOf(index: FlowIndex, rawLots: readonly FlowLot[]): ExposureLineAnswer['dispersion'] {
  const used = rawLots.filter((lot) => index.processesOf.has(lot.lotId));
  const processIds = [...new Set(used.flatMap((lot) => [...(index.processesOf.get(lot.lotId) ?? [])]))];
  const taken = (lot: FlowLot, processId: string) => index.takenBy.get(lot.lotId)?.get(processId) ?? 0;
  const arcs = used.flatMap((lot, raw) =>
    processIds.flatMap((processId, finished) =>
      index.processesOf.get(lot.lotId)?.has(processId) ? [{ raw, finished }] : [],
    ),
  );
  const supply = used.map((lot) => {
    const left = Math.max(quantityIn(lot.stands, new Set<StandKind>(['place', 'transit'])), 0);
    return processIds.reduce((sum, processId) => sum + Math.max(taken(lot, processId), 0), left);
  });
  const demand = processIds.map((processId) => used.reduce((sum, lot) => sum + Math.max(taken(lot, processId), 0), 0));
  const least = leastDispersion(
    supply.filter((quantity) => quantity > 0),
    demand.filter((quantity) => quantity > 0),
  );
  return {
    rawLots: used.length,
    processes: processIds.length,
    links: linksOf(arcs),
    leastLinks: least === 'too-many-lots' ? null : least.links,
  };
}
