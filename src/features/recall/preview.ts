/** Seeing what a recall would reach. Refusals: as for opening. */
import { Refused } from '../../domain/errors.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import type { Tx } from '../../platform/db/db.ts';
import { lotAnswer } from './answer.ts';
import type { previewRecall } from './contract-starts.ts';
import { countForward, listLotBriefs, walkForward } from './queries.ts';
import { MOST_LOTS } from './shapes.ts';
import { onTheRoad, standingOf } from './standing.ts';
import { matchStarts, type MatchedStart } from './starts/match.ts';

const MOST_SHOWN = 50;

/** Only those who may at every site: a case is not divided by sites. */
export function requireEverySite(scope: Context['scope']): void {
  if (!scope.all) throw new Refused('rule-broken', 'A recall is for those who may act at every site.');
}

export interface Roots {
  /** walked forward from */
  readonly walked: readonly string[];
  /** only themselves */
  readonly still: readonly string[];
}

export function rootsOf(starts: readonly MatchedStart[]): Roots {
  const of = (walks: boolean) =>
    starts.filter((start) => (start.said.walk !== 'none') === walks).flatMap((start) => start.lotIds);
  const walked = new Set(of(true));
  return { walked: [...walked], still: [...new Set(of(false))].filter((lotId) => !walked.has(lotId)) };
}

function tooLarge(): Refused {
  return new Refused('scope-too-large', `The starting points reach more than ${MOST_LOTS} lots.`);
}

/** @throws Refused `scope-too-large` beyond the bound */
export async function requireBounded(tx: Tx, { walked, still }: Roots): Promise<void> {
  // What is not walked from may have been reached by walking as well; the bound is not that sharp.
  if ((await countForward(tx, walked, MOST_LOTS + 1)) + still.length > MOST_LOTS) throw tooLarge();
}

export async function preview(context: Context<typeof previewRecall>): Promise<Reply> {
  const { tx, scope, body } = context;
  requireEverySite(scope);
  const starts = await matchStarts(tx, body.starts);
  const { walked, still } = rootsOf(starts);
  const lotIds = [...new Set([...(await walkForward(tx, walked, MOST_LOTS + 1)), ...still])];
  if (lotIds.length > MOST_LOTS) throw tooLarge();
  const shown = [...new Set(starts.flatMap((start) => start.lotIds.slice(0, MOST_SHOWN)))];
  const briefs = new Map((await listLotBriefs(tx, shown)).map((row) => [row.lotId, lotAnswer(row)]));
  const { totals, sites } = await standingOf(tx, { lotIds });
  const pieces = totals.filter((total) => total.unit === 'piece');
  return {
    status: 200,
    body: {
      starts: starts.map(({ position, said, lotIds: own }) => ({
        position,
        kind: said.kind,
        lotCount: own.length,
        lots: own.slice(0, MOST_SHOWN).flatMap((lotId) => briefs.get(lotId) ?? []),
      })),
      lotCount: lotIds.length,
      bound: MOST_LOTS,
      totals,
      sites,
      packs: pieces.reduce((sum, total) => sum + total.onHand + total.inTransit, 0),
      served: pieces.reduce((sum, total) => sum + total.served, 0),
      onTheRoad: await onTheRoad(tx, { lotIds }),
    },
  };
}
