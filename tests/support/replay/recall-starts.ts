/** Starting points for recalls over random stories: each names something that was told. */
import { liveFactsOf } from '../oracle/atlas.ts';
import { edgesOf } from '../oracle/graph.ts';
import { birthsIn, type OracleStart } from '../oracle/recall.ts';
import type { Verb } from '../oracle/story-verbs.ts';
import type { OracleFact } from '../oracle/types.ts';
import { supplierKeyOf } from './tell.ts';

/** Food that is cooked, cooked again and packed; no holds but the case's own. */
export const RECALL_VERBS: readonly Verb[] = [
  ...([
    'receive',
    'receive',
    'batch',
    'batch',
    'batch',
    'late-input',
    'late-input',
    'late-input',
    'late-input',
    'extra-output',
  ] as const),
  ...(['pack-counted', 'pack-counted', 'pack-serialised', 'dispatch', 'arrive-counted', 'scan-arrival'] as const),
  ...(['use', 'discard', 'end-scan', 'count', 'move', 'reverse', 'reverse', 'scan-counted'] as const),
];

const DAY_MS = 86_400_000;

/** A starting point of one of these kinds that names something; the dice are numbers of any size. */
export function pickStart(told: readonly OracleFact[], dice: readonly number[]): OracleStart {
  const [a = 0, b = 0, c = 0] = dice;
  const all = birthsIn(told);
  // Mostly one that something was made of.
  const edges = [...edgesOf(liveFactsOf(told))];
  const parents = all.filter((birth) => edges.some((edge) => edge.startsWith(birth.lotId)));
  const births = parents.length > 0 && a % 8 > 0 ? parents : all;
  const some = <T>(list: readonly T[], n: number): T | undefined =>
    list.length === 0 ? undefined : list[n % list.length];
  const born = some(births, a) ?? births[0];
  if (born === undefined) throw new Error('a story in which nothing is born');
  const { lotId, fact } = born;
  const fromMs = fact.occurredAt - 1 - (b % (10 * DAY_MS));
  const toMs = fact.occurredAt + 1 + (c % (10 * DAY_MS));
  const during = { fromMs, toMs };
  const sent = some(
    told.filter((one) => one.kind === 'dispatch'),
    b,
  );
  const receipts = births.filter((birth) => birth.fact.kind === 'receive');
  const received = some(receipts, b)?.fact;
  const fits: OracleStart[] = [
    { kind: 'lot', lotId },
    { kind: 'complaint', lotId },
    { kind: 'person-period', ...during },
  ];
  if (received?.kind === 'receive') {
    fits.push({ kind: 'supplier-lot', key: supplierKeyOf(received.lotId) });
    fits.push({ kind: 'supplier-lot', key: supplierKeyOf(received.lotId) });
    fits.push({ kind: 'place-period', placeId: received.placeId, ...during });
  }
  if (fact.kind === 'receive') fits.push({ kind: 'supplier-period', ...during });
  if (fact.kind === 'batch-output') fits.push({ kind: 'batch', batchId: fact.batchId });
  if (fact.kind === 'packing') {
    fits.push({ kind: 'packing-run', packingId: fact.id }, { kind: 'machine-period', ...during });
  }
  const item = ({ receive: 'supplied', 'batch-output': 'produced', packing: 'packed' } as const)[
    fact.kind as 'receive'
  ];
  fits.push({ kind: 'item-period', item, ...during });
  if (sent?.kind === 'dispatch') fits.push({ kind: 'dispatch', dispatchId: sent.dispatchId });
  return some(fits, c) ?? { kind: 'lot', lotId };
}
