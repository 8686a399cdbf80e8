/** What became of the lots of a recall, by unit and by mass, from the movements of a story alone. */
import { isPhysical, siteOfPlace } from './atlas.ts';
import type { DispatchFact, OracleFact, OracleState, World } from './types.ts';

type Account = 'onHand' | 'inTransit' | 'served' | 'wasted' | 'returned' | 'consumed' | 'unexplained';
export type Quantities = { [K in Account | 'produced']: number };

const FAMILY: Readonly<Record<string, Account>> = {
  place: 'onHand',
  transit: 'inTransit',
  served: 'served',
  waste: 'wasted',
  consumed: 'consumed',
  variance: 'unexplained',
};

const splitAccount = (account: string): [string, string] => {
  const colon = account.indexOf(':');
  return [account.slice(0, colon), account.slice(colon + 1)];
};

/** What was made of a lot, and where all of it is; supplier and production are where it came from. */
export function quantitiesOf(state: OracleState, lotId: string): Quantities {
  const all = { produced: 0, onHand: 0, inTransit: 0, served: 0, wasted: 0, returned: 0, consumed: 0, unexplained: 0 };
  for (const [account, net] of state.whereIs(lotId)) {
    const name = FAMILY[splitAccount(account)[0]];
    if (name === undefined) all.produced -= net;
    else all[name] += net;
  }
  return all;
}

const destinationOf = (facts: readonly OracleFact[], dispatchId: string): string | undefined =>
  facts.find((f): f is DispatchFact => f.kind === 'dispatch' && f.dispatchId === dispatchId)?.toSiteId;

function siteOfAccount(world: World, facts: readonly OracleFact[], account: string): string {
  const [family, id] = splitAccount(account);
  if (family === 'place') return siteOfPlace(world, id);
  return family === 'transit' ? (destinationOf(facts, id) ?? '') : id;
}

/** Sites that have or had any of a lot, or to which some is on the road. `facts`: all, undone ones too. */
export function sitesOf(state: OracleState, facts: readonly OracleFact[], lotId: string): Set<string> {
  const sites = new Set<string>();
  for (const p of state.postings) {
    if (p.lotId !== lotId) continue;
    for (const account of [p.from, p.to]) {
      // What came in from outside or went there did so at a place that is named already.
      if (isPhysical(account)) sites.add(siteOfAccount(state.world, facts, account));
    }
  }
  return sites;
}

/** One lot at one site: what its people have to say something about. */
export interface ToType {
  readonly lotId: string;
  readonly siteId: string;
  readonly onHand: number;
  readonly inTransit: number;
  /** found missing by counts; never below zero */
  readonly unexplained: number;
  /** went into a batch that nothing came out of yet */
  readonly inProcess: number;
  readonly quantity: number;
}

/** Batches and runs out of which something came that stands. */
function outcomes(state: OracleState): Set<string> {
  return new Set(state.liveFacts.flatMap((f) => (f.kind === 'batch-output' ? [f.batchId] : [])));
}

function inProcessAt(state: OracleState, lotId: string, siteId: string): number {
  const done = outcomes(state);
  let sum = 0;
  for (const f of state.liveFacts) {
    if (f.kind !== 'batch-input' || f.lotId !== lotId || done.has(f.batchId)) continue;
    if (siteOfPlace(state.world, f.placeId) === siteId) sum += f.quantity;
  }
  return sum;
}

export function toTypeOf(state: OracleState, facts: readonly OracleFact[], scope: ReadonlySet<string>): ToType[] {
  return [...scope].flatMap((lotId) =>
    state.world.sites.flatMap(({ id: siteId }): ToType[] => {
      const at = { onHand: 0, inTransit: 0, unexplained: 0 };
      for (const [account, net] of state.whereIs(lotId)) {
        if (siteOfAccount(state.world, facts, account) !== siteId) continue;
        const name = FAMILY[splitAccount(account)[0]];
        if (name === 'onHand' || name === 'inTransit' || name === 'unexplained') at[name] += net;
      }
      const one = { ...at, unexplained: Math.max(0, at.unexplained), inProcess: inProcessAt(state, lotId, siteId) };
      const quantity = one.onHand + one.inTransit + one.unexplained + one.inProcess;
      return quantity === 0 ? [] : [{ lotId, siteId, ...one, quantity }];
    }),
  );
}

export interface Answered {
  readonly lotId: string;
  readonly siteId: string;
  readonly quantity: number;
  readonly found: boolean;
}

export interface Figures {
  readonly toAccountMg: bigint;
  readonly answeredMg: bigint;
  readonly accountedMg: bigint;
  /** "lotId|siteId" to what nobody has answered for; zeros left out */
  readonly open: Record<string, number>;
}

/**
 * `answers`: those in force. A quantity that nothing but its neighbour's surplus would settle stays open: no line makes up for another.
 * @param mgOf what one unit of a lot weighs; whole in stories
 */
export function figuresOf(
  state: OracleState,
  facts: readonly OracleFact[],
  scope: ReadonlySet<string>,
  answers: readonly Answered[],
  mgOf: (lotId: string) => number,
): Figures {
  const done = outcomes(state);
  const weigh = (lotId: string, quantity: number): bigint => BigInt(quantity) * BigInt(mgOf(lotId));
  let toAccountMg = 0n;
  let explainedMg = 0n;
  for (const lotId of scope) {
    const all = quantitiesOf(state, lotId);
    const wentOn = state.liveFacts.reduce((sum, f) => {
      if (f.kind === 'batch-input' && f.lotId === lotId && done.has(f.batchId)) return sum + f.quantity;
      if (f.kind !== 'packing') return sum;
      return f.fills.reduce((more, fill) => more + (fill.fromLotId === lotId ? fill.usedQuantity : 0), sum);
    }, 0);
    toAccountMg += weigh(lotId, all.produced - wentOn);
    explainedMg += weigh(lotId, all.served + all.wasted + all.returned);
  }
  const open: Record<string, number> = {};
  let foundMg = 0n;
  let lostMg = 0n;
  for (const line of toTypeOf(state, facts, scope)) {
    const own = answers.filter((a) => a.lotId === line.lotId && a.siteId === line.siteId);
    const sum = (found: boolean) => own.reduce((all, a) => all + (a.found === found ? a.quantity : 0), 0);
    foundMg += weigh(line.lotId, sum(true));
    lostMg += weigh(line.lotId, sum(false));
    const left = line.quantity - sum(true) - sum(false);
    if (left > 0) open[`${line.lotId}|${line.siteId}`] = left;
  }
  return { toAccountMg, accountedMg: explainedMg + foundMg, answeredMg: explainedMg + foundMg + lostMg, open };
}

/** Lots of which less than nothing is somewhere: for them shares say nothing, and are not compared. */
export function isOdd(state: OracleState, lotId: string): boolean {
  return [...state.whereIs(lotId)].some(([account, net]) => net < 0 && FAMILY[splitAccount(account)[0]] !== undefined);
}
