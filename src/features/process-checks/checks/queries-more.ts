/** SQL that reads series, deviations, the lots that checks are about, and what stands in whose place. */
import type { SeriesPoint } from '../../../domain/process-checks/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';
import { checksOf, CLOSED, inPeriod, STANDS, type CheckRow } from './queries.ts';

export interface DeviationFilter {
  readonly siteId: string | null;
  readonly fromDate: string | null;
  readonly toDate: string | null;
  readonly state: 'open' | 'closed' | null;
}

/** Failed checks that stand, by time; one more than the page holds. */
export async function listDeviationRows(
  tx: Tx,
  scope: SiteScope,
  filter: DeviationFilter,
  page: Page,
): Promise<CheckRow[]> {
  return tx.query<CheckRow>(
    checksOf(`where c.group_id = $1::uuid and ($2::boolean or c.site_id = any($3::uuid[])) and c.result = 'failed' and ${STANDS}
        and ($4::uuid is null or c.site_id = $4::uuid)
        and ${inPeriod('$5', '$6')}
        and ($7::text is null or ($7::text = 'closed') = ${CLOSED})
        and ($8::timestamptz is null or (c.occurred_at, c.check_id) > ($8::timestamptz, $9::uuid))
      order by c.occurred_at, c.check_id
      limit $10::int`),
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.fromDate,
      filter.toDate,
      filter.state,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

interface SeriesRow {
  readonly checkId: string;
  readonly minutes: number[];
  readonly temperaturesC: number[];
}

/** The points of checks that were taken as a series; the others are left out. Minutes from the first point, degrees Celsius. */
export async function findCheckSeries(tx: Tx, checkIds: readonly string[]): Promise<Map<string, SeriesPoint[]>> {
  const rows = await tx.query<SeriesRow>(
    `select s.check_id as "checkId", s.minutes, s.temperatures_c as "temperaturesC" from process_check_series s
      where s.group_id = $1::uuid and s.check_id = any($2::uuid[])`,
    [tx.groupId, checkIds],
  );
  return new Map(
    rows.map(({ checkId, minutes, temperaturesC }) => [
      checkId,
      minutes.map((minute, at) => ({ minute, temperatureC: temperaturesC[at] ?? NaN })),
    ]),
  );
}

export interface ConcernedLot {
  readonly checkId: string;
  readonly lotId: string;
  readonly lotCode: string;
  /** a hold for a failed check reaches it now */
  readonly held: boolean;
}

/** The lots that checks are about: the lot itself, the loads of a batch, the packs of a run, the lots of a delivery. */
export async function listConcernedLots(tx: Tx, checkIds: readonly string[]): Promise<ConcernedLot[]> {
  return tx.query<ConcernedLot>(
    `with concerned (check_id, lot_id) as (
       select c.check_id, c.lot_id from process_check c
        where c.group_id = $1::uuid and c.check_id = any($2::uuid[]) and c.lot_id is not null
        union
       select c.check_id, l.lot_id from process_check c
         join lot l on l.group_id = c.group_id and l.batch_id = c.about_id and l.origin = 'produced'
        where c.group_id = $1::uuid and c.check_id = any($2::uuid[]) and c.about_kind = 'batch'
        union
       select c.check_id, l.lot_id from process_check c
         join lot l on l.group_id = c.group_id and l.packing_run_id = c.about_id and l.origin = 'packed'
        where c.group_id = $1::uuid and c.check_id = any($2::uuid[]) and c.about_kind = 'packing-run'
        union
       select c.check_id, gl.lot_id from process_check c
         join goods_receipt_line gl on gl.group_id = c.group_id and gl.goods_receipt_id = c.about_id and gl.lot_id is not null
        where c.group_id = $1::uuid and c.check_id = any($2::uuid[]) and c.about_kind = 'goods-receipt')
     select co.check_id as "checkId", l.lot_id as "lotId", l.code as "lotCode",
            exists (select from hold_reach hr join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id
                     where hr.group_id = l.group_id and hr.lot_id = l.lot_id and h.kind = 'failed-check' and h.lifted_at is null)
              as held
       from concerned co join lot l on l.group_id = $1::uuid and l.lot_id = co.lot_id
      order by co.check_id, l.code`,
    [tx.groupId, checkIds],
  );
}

/** The check and all that it corrects, newest first. */
export async function listCorrected(tx: Tx, checkId: string): Promise<string[]> {
  const rows = await tx.query<{ checkId: string }>(
    `with recursive chain (check_id, supersedes_check_id, depth) as (
       select c.check_id, c.supersedes_check_id, 0 from process_check c where c.group_id = $1::uuid and c.check_id = $2::uuid
        union all
       select c.check_id, c.supersedes_check_id, chain.depth + 1
         from chain join process_check c on c.group_id = $1::uuid and c.check_id = chain.supersedes_check_id
        where chain.depth < 1000)
     select chain.check_id as "checkId" from chain order by chain.depth`,
    [tx.groupId, checkId],
  );
  return rows.map((row) => row.checkId);
}

/** Whether a later check of the same point of the same batch, load or run has passed. */
export async function hasPassedSince(tx: Tx, check: CheckRow): Promise<boolean> {
  const rows = await tx.query<{ passed: boolean }>(
    `select exists (select from process_check c
              where c.group_id = $1::uuid and c.batch_id = $2::uuid and c.control_point = $3::text and c.result = 'passed'
                and c.occurred_at >= $4::timestamptz and c.check_id <> $5::uuid
                and ($6::uuid is null or c.lot_id = $6::uuid or c.about_kind = 'batch')
                and ($7::uuid is null or c.packing_run_id = $7::uuid)
                and ${STANDS}) as passed`,
    [
      tx.groupId,
      check.batchId,
      check.controlPoint,
      check.occurredAt,
      check.checkId,
      check.aboutKind === 'lot' && check.packingRunId === null ? check.lotId : null,
      check.packingRunId,
    ],
  );
  return rows[0]?.passed ?? false;
}

/** Failed checks of a whole batch that stand and cannot be repeated: what they say holds for loads that are told later as well. */
export async function listFailedForGood(
  tx: Tx,
  batchId: string,
): Promise<{ checkId: string; reason: string | null }[]> {
  return tx.query<{ checkId: string; reason: string | null }>(
    `select c.check_id as "checkId", c.judgement -> 'reasons' ->> 0 as reason
       from process_check c
      where c.group_id = $1::uuid and c.batch_id = $2::uuid and c.about_kind = 'batch' and c.result = 'failed'
        and (c.limits ->> 'repeatable')::boolean = false and ${STANDS}
      order by c.check_id`,
    [tx.groupId, batchId],
  );
}
