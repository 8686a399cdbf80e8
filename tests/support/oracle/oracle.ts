/**
 * The oracle: what the ledger must say, given a list of facts in any order of arrival. Brute force over the whole list
 * every time, with no running state to get wrong. It never refuses; see `requests.ts` for what a request would be told.
 */
import { isPhysical, liveFactsOf, useByOf } from './atlas.ts';
import { edgesOf, holdsEverReached, openHoldsOf, walk } from './graph.ts';
import { balanceOf, ordinaryPostings, withVariances } from './postings.ts';
import { monthOf } from './report.ts';
import { readSerials } from './serials.ts';
import { lastWords, totalPostings } from './totals.ts';
import type { OracleFact, OraclePosting, OracleState, World } from './types.ts';

export { freeQuantity, wouldRefuse } from './requests.ts';
export type { OracleRequest } from './requests.ts';
export type * from './types.ts';

/** Nets of every lot on every account it touched; zeros left out. */
function netsOf(postings: readonly OraclePosting[]): Map<string, number> {
  const net = new Map<string, number>();
  for (const posting of postings) {
    for (const account of [posting.from, posting.to]) {
      const balance = balanceOf(postings, posting.lotId, account);
      if (balance !== 0) net.set(`${posting.lotId}|${account}`, balance);
    }
  }
  return net;
}

function splitKey(key: string): { lotId: string; account: string } {
  const bar = key.indexOf('|');
  return { lotId: key.slice(0, bar), account: key.slice(bar + 1) };
}

export function replay(world: World, facts: readonly OracleFact[]): OracleState {
  const liveFacts = liveFactsOf(facts);
  const serials = readSerials(world, facts, liveFacts);
  const scanned = [...serials.postings, ...totalPostings(world, liveFacts)];
  const postings = withVariances(world, [...ordinaryPostings(world, facts, liveFacts), ...scanned], liveFacts);
  const net = netsOf(postings);
  const edges = edgesOf(liveFacts);
  const openHolds = openHoldsOf(liveFacts, edges);

  const shortfalls = new Set<string>();
  for (const [key, balance] of net) {
    if (balance < 0 && isPhysical(splitKey(key).account)) shortfalls.add(key);
  }

  const findings = new Set([...serials.findings, ...[...shortfalls].map((key) => `shortfall|${key}`)]);
  const totals = new Set(lastWords(world, liveFacts).flatMap((scan) => (scan.what === 'use' ? [scan.id] : [])));
  for (const fact of liveFacts) {
    const served =
      fact.kind === 'use' ||
      (fact.kind === 'scan-use' && serials.winningEnds.includes(fact.id)) ||
      (fact.kind === 'scan-counted' && totals.has(fact.id));
    if (served && fact.occurredAt > useByOf(world, fact.lotId)) findings.add(`past-use-by|${fact.id}`);
  }

  return {
    world,
    liveFacts,
    postings,
    net,
    edges,
    shortfalls,
    findings,
    openHolds,
    holdsMinimal: new Set(openHolds.map((hold) => `${hold.holdId}|${hold.lotId}`)),
    holdsPossible: holdsEverReached(facts),
    trace: (lotId, direction) => walk(edges, [lotId], direction),
    whereIs: (lotId) => {
      const where = new Map<string, number>();
      for (const [key, balance] of net) {
        const part = splitKey(key);
        if (part.lotId === lotId) where.set(part.account, balance);
      }
      return where;
    },
    monthReport: (fromMs, toMs, siteId) => monthOf(world, postings, fromMs, toMs, siteId),
  };
}

const NEVER_POSITIVE = ['supplier:', 'produced:'];
const NEVER_NEGATIVE = ['consumed:', 'waste:'];

/** Throws, naming the lot, unless every lot sums to zero over all accounts and one-way accounts have their sign. */
export function checkConservation(state: Pick<OracleState, 'net'>): void {
  const sums = new Map<string, number>();
  for (const [key, balance] of state.net) {
    const { lotId, account } = splitKey(key);
    if (!Number.isSafeInteger(balance)) throw new Error(`not a whole quantity: ${key} is ${balance}`);
    if (balance > 0 && NEVER_POSITIVE.some((p) => account.startsWith(p))) throw new Error(`wrong sign: ${key}`);
    if (balance < 0 && NEVER_NEGATIVE.some((p) => account.startsWith(p))) throw new Error(`wrong sign: ${key}`);
    sums.set(lotId, (sums.get(lotId) ?? 0) + balance);
  }
  for (const [lotId, sum] of sums) {
    if (sum !== 0) throw new Error(`lot ${lotId} is not conserved: its accounts sum to ${sum}`);
  }
}
