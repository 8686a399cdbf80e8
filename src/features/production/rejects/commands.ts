/**
 * Reject rates. Refusals: `not-found` (site, machine), `rule-broken` (a day that is not on the calendar, days the wrong way round, a picture
 * of no machine), `period-too-long`.
 */
import { notFound } from '../../../domain/errors.ts';
import { groupBy } from '../../../domain/grouping.ts';
import { REJECT_REASONS } from '../../../domain/process-checks/programmes.ts';
import { judgeProportions } from '../../../domain/process-checks/proportions.ts';
import { refuseQuery, requireYear } from '../../../domain/query-days.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findEquipment, findSites } from '../../catalogue/index.ts';
import { FAULT_KINDS } from '../faults/kinds.ts';
import type { getPackRejects, PackRejectsAnswer, RejectRow } from './contract.ts';
import { drawRejects } from './picture.ts';
import { listPeriods, type PeriodRow } from './store.ts';

const METHOD =
  'Mean share of the row ± 3 x sqrt(mean x (1 - mean) / n), n packs made and rejected in the period: control chart of proportions, NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2';
const NOTES = [
  'Rejected: pouches that did not seal and were set aside in the run. Their food is usually packed again, so it is no waste by itself.',
  'Limits need at least five periods with packs. They are rough where fewer than five rejected packs were to be expected (common practice). The period that is judged is itself part of the mean.',
  'A period that stands out is a question about machine, pouch, food or setting, not a verdict. None standing out does not mean that the rate is good.',
  'Faults that showed afterwards count in the period in which the pack was sealed: the latest periods may still get more.',
];

const percentOf = (share: number): number => Math.round(share * 10_000) / 100;

function countsOf(rows: readonly PeriodRow[]) {
  const sum = (pick: (row: PeriodRow) => number | undefined) => rows.reduce((all, row) => all + (pick(row) ?? 0), 0);
  const packsMade = sum((row) => row.packsMade);
  const packsRejected = sum((row) => row.packsRejected);
  const said = REJECT_REASONS.map((reason) => [reason, sum((row) => row.byReason[reason])] as const);
  const notSaid = packsRejected - said.reduce((all, [, packs]) => all + packs, 0);
  const sealed = packsMade + packsRejected;
  return {
    runs: sum((row) => row.runs),
    packsMade,
    packsRejected,
    byReason: { ...Object.fromEntries(said), 'not-said': notSaid } as RejectRow['byReason'],
    rejectPercent: sealed === 0 ? null : percentOf(packsRejected / sealed),
    sealTests: { tested: sum((row) => row.tested), failed: sum((row) => row.failed) },
    faults: Object.fromEntries(
      FAULT_KINDS.map((kind) => [kind, sum((row) => row.faults[kind])]),
    ) as RejectRow['faults'],
  };
}

function rowOf(periods: readonly PeriodRow[]): RejectRow[] {
  const [first] = periods;
  if (!first) return [];
  const samples = periods.map(({ packsMade, packsRejected }) => ({ n: packsMade + packsRejected, bad: packsRejected }));
  const judged = judgeProportions(samples);
  const { equipmentId, equipmentName, programmeId, programme } = first;
  return [
    {
      equipmentId,
      equipmentName,
      programmeId,
      programme,
      ...countsOf(periods),
      periods: periods.map((period, at) => {
        const limits = judged[at] ?? null;
        return {
          begins: period.begins,
          ...countsOf([period]),
          limits: limits && {
            lowerPercent: percentOf(limits.lower),
            upperPercent: percentOf(limits.upper),
            rough: limits.rough,
          },
          standsOut: limits?.side ?? null,
        };
      }),
    },
  ];
}

export async function readRejects(context: Context<typeof getPackRejects>): Promise<Reply> {
  const { tx, query, scope } = context;
  const { siteId, fromDate, toDate, by = 'week' } = query;
  requireYear(fromDate, toDate);
  const site = (await findSites(tx, [siteId])).get(siteId);
  if (!site || !scope.includes(siteId)) throw notFound('site');
  const equipmentId = query.equipmentId ?? null;
  const machine = equipmentId === null ? null : (await findEquipment(tx, [equipmentId])).get(equipmentId);
  if (equipmentId !== null && machine?.siteId !== siteId) throw notFound('equipment');
  const wanted = context.accept(['application/json', 'image/svg+xml']) === 'image/svg+xml' ? 'svg' : 'json';
  const format = query.format ?? wanted;
  if (format === 'svg' && !machine) throw refuseQuery('equipmentId', 'A picture is of one machine: name it.');
  const rows = await listPeriods(tx, { siteId, timeZone: site.timeZone, equipmentId, fromDate, toDate, by });
  const groups = groupBy(rows, (row) => `${row.equipmentId} ${row.programmeId ?? row.programme}`);
  const answers = [...groups.values()].flatMap(rowOf);
  if (format === 'svg') {
    const data = drawRejects(machine?.name ?? '', answers, { fromDate, toDate, by });
    return { status: 200, raw: { contentType: 'image/svg+xml; charset=utf-8', data } };
  }
  const body: PackRejectsAnswer = { siteId, fromDate, toDate, by, rows: answers, method: METHOD, notes: NOTES };
  return { status: 200, body };
}
