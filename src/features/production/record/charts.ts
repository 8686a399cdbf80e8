/** Pictures of the series of a batch's checks. */
import type { Tx } from '../../../platform/db/db.ts';
import { findCheckSeries, seriesChart, type CheckDetails } from '../../process-checks/index.ts';
import type { BatchRecord } from './contract.ts';

/** Beyond it the record would be a book: the others stand with their checks. */
const MOST_CHARTS = 24;
const MS_PER_MINUTE = 60_000;

export interface SeriesPictures {
  /** in time order */
  readonly svgs: readonly string[];
  /** how many are left out */
  readonly more: number;
}

/** Of the checks that stand, those that failed first in doubt: none of them is ever left out for one that passed. */
export async function seriesPictures(
  tx: Tx,
  { checks, timeZone }: BatchRecord,
  details: readonly CheckDetails[],
): Promise<SeriesPictures> {
  const series = details.filter(({ measured }) => measured.form === 'series');
  const byWeight = [...series].sort((a, b) => weight(a) - weight(b));
  const chosen = new Set(byWeight.slice(0, MOST_CHARTS).map(({ checkId }) => checkId));
  const svgs: string[] = [];
  for (const check of series) {
    if (!chosen.has(check.checkId)) continue;
    // One at a time: each may have as many points as a series is allowed to have.
    const points = (await findCheckSeries(tx, [check.checkId])).get(check.checkId) ?? [];
    const endedMs = Date.parse(check.occurredAt);
    const lastMinute = points.at(-1)?.minute ?? 0;
    svgs.push(
      seriesChart({
        name: `series-${svgs.length + 1}`,
        title: titleOf(checks.find(({ checkId }) => checkId === check.checkId)),
        points,
        limit: check.limits.limit,
        // What was assumed stands with the checks; here only why one failed.
        judgement: { result: check.result, reasons: whyFailed(check, series), numbers: check.numbers },
        began: { atMs: endedMs - lastMinute * MS_PER_MINUTE, zone: timeZone },
      }),
    );
  }
  return { svgs, more: series.length - svgs.length };
}

function titleOf(check: BatchRecord['checks'][number] | undefined): string {
  if (check === undefined) return 'Series';
  return `${check.label}: ${check.about}${check.supersededByCheckId === null ? '' : ' (corrected later)'}`;
}

/** What is said of this check and of no other. */
function whyFailed(check: CheckDetails, series: readonly CheckDetails[]): string[] {
  if (check.result === 'passed') return [];
  const others = new Set(
    series.filter(({ checkId }) => checkId !== check.checkId).flatMap(({ reasons }) => [...reasons]),
  );
  const own = check.reasons.filter((reason) => !others.has(reason));
  return own.length > 0 ? own : [...check.reasons];
}

function weight({ result, supersededByCheckId }: CheckDetails): number {
  if (supersededByCheckId !== null) return 2;
  return result === 'failed' ? 0 : 1;
}
