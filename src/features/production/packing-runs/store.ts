/** SQL of packing runs beside their fills, and of reading them. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';
import type { RejectReason, Rejects } from '../../../domain/process-checks/programmes.ts';

export async function insertRejects(tx: Tx, packingRunId: string, rejects: readonly Rejects[]): Promise<void> {
  await tx.query(
    `insert into packing_reject (group_id, packing_run_id, reason, packs)
     select $1::uuid, $2::uuid, r.reason, r.packs from jsonb_to_recordset($3::jsonb) as r(reason text, packs int)`,
    [tx.groupId, packingRunId, JSON.stringify(rejects)],
  );
}

export interface RunHeadRow {
  readonly packingRunId: string;
  readonly batchId: string;
  readonly batchCode: string;
  readonly siteId: string;
  readonly equipmentId: string;
  readonly equipmentName: string;
  readonly programme: string;
  readonly programmeId: string | null;
  readonly programmeVersion: number | null;
  readonly packerId: string;
  readonly packerName: string;
  readonly startedAt: Date;
  readonly finishedAt: Date;
  readonly packsMade: number;
  readonly packsRejected: number;
  readonly undone: boolean;
}

const HEAD = `r.packing_run_id as "packingRunId", r.batch_id as "batchId", b.code as "batchCode", r.site_id as "siteId",
  r.equipment_id as "equipmentId", q.name as "equipmentName", r.programme, r.programme_id as "programmeId",
  r.programme_version as "programmeVersion", r.packer_id as "packerId", r.packer_name as "packerName", r.started_at as "startedAt",
  r.finished_at as "finishedAt", r.packs_rejected as "packsRejected",
  (select coalesce(sum(f.packs), 0)::int8 from packing_fill f
    where f.group_id = r.group_id and f.packing_run_id = r.packing_run_id) as "packsMade",
  exists (select from entry x where x.group_id = r.group_id and x.reverses_entry_id = r.packing_run_id) as undone`;
const JOINS = `join batch b on b.group_id = r.group_id and b.batch_id = r.batch_id
  join equipment q on q.group_id = r.group_id and q.equipment_id = r.equipment_id
  join site s on s.group_id = r.group_id and s.site_id = r.site_id`;

export async function findRunHead(tx: Tx, packingRunId: string): Promise<RunHeadRow | null> {
  const rows = await tx.query<RunHeadRow>(
    `select ${HEAD} from packing_run r ${JOINS} where r.group_id = $1::uuid and r.packing_run_id = $2::uuid`,
    [tx.groupId, packingRunId],
  );
  return rows[0] ?? null;
}

export interface RunFilter {
  readonly siteId: string | null;
  readonly equipmentId: string | null;
  readonly programme: string | null;
  readonly programmeId: string | null;
  /** dates at the site */
  readonly fromDate: string | null;
  readonly toDate: string | null;
}

/** Newest last, one more than the page holds. The bounds a day wider than the dates let the index be used, whatever the time zone. */
export async function listRunHeads(tx: Tx, scope: SiteScope, filter: RunFilter, page: Page): Promise<RunHeadRow[]> {
  return tx.query<RunHeadRow>(
    `select ${HEAD} from packing_run r ${JOINS}
      where r.group_id = $1::uuid and ($2::boolean or r.site_id = any($3::uuid[]))
        and ($4::uuid is null or r.site_id = $4::uuid) and ($5::uuid is null or r.equipment_id = $5::uuid)
        and ($6::text is null or r.programme = $6::text) and ($7::uuid is null or r.programme_id = $7::uuid)
        and ($8::date is null or (r.finished_at >= $8::date - 1 and (r.finished_at at time zone s.time_zone)::date >= $8::date))
        and ($9::date is null or (r.finished_at < $9::date + 2 and (r.finished_at at time zone s.time_zone)::date <= $9::date))
        and ($10::timestamptz is null or (r.finished_at, r.packing_run_id) > ($10::timestamptz, $11::uuid))
      order by r.finished_at, r.packing_run_id limit $12::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.equipmentId,
      filter.programme,
      filter.programmeId,
      filter.fromDate,
      filter.toDate,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

export interface RunFillRow {
  readonly fromLotId: string;
  readonly fromLotCode: string;
  readonly usedQuantity: number;
  readonly usedUnit: 'mg' | 'g' | 'ml' | 'piece';
  readonly packLotId: string;
  readonly packLotCode: string;
  readonly itemName: string;
  readonly packs: number;
  readonly changedOverAt: Date;
}

export async function listRunFills(tx: Tx, packingRunId: string): Promise<RunFillRow[]> {
  return tx.query<RunFillRow>(
    `select f.from_lot_id as "fromLotId", l.code as "fromLotCode", f.used_quantity as "usedQuantity", l.unit as "usedUnit",
            f.pack_lot_id as "packLotId", k.code as "packLotCode", i.name as "itemName", f.packs, f.changed_over_at as "changedOverAt"
       from packing_fill f
       join lot l on l.group_id = f.group_id and l.lot_id = f.from_lot_id
       join lot k on k.group_id = f.group_id and k.lot_id = f.pack_lot_id
       join item i on i.group_id = k.group_id and i.item_id = k.item_id
      where f.group_id = $1::uuid and f.packing_run_id = $2::uuid
      order by f.line_no`,
    [tx.groupId, packingRunId],
  );
}

export async function listRejects(tx: Tx, packingRunId: string): Promise<{ reason: RejectReason; packs: number }[]> {
  return tx.query(
    `select j.reason, j.packs from packing_reject j
      where j.group_id = $1::uuid and j.packing_run_id = $2::uuid order by j.packs desc, j.reason`,
    [tx.groupId, packingRunId],
  );
}

export interface RunCheckRow {
  readonly checkId: string;
  readonly kind: string;
  readonly result: 'passed' | 'failed';
  readonly occurredAt: Date;
  readonly doneBy: string;
  readonly instrumentId: string | null;
  readonly measured: unknown;
  readonly judgement: { readonly reasons: readonly string[] };
  readonly note: string | null;
}

/** Checks of the run or of its packs that stand: nothing was recorded in their place. */
export async function listRunChecks(tx: Tx, packingRunId: string): Promise<RunCheckRow[]> {
  return tx.query<RunCheckRow>(
    `select c.check_id as "checkId", c.kind, c.result, c.occurred_at as "occurredAt", c.done_by as "doneBy",
            c.instrument_id as "instrumentId", c.measured, c.judgement, c.note
       from process_check c
      where c.group_id = $1::uuid and c.packing_run_id = $2::uuid
        and not exists (select from process_check n where n.group_id = c.group_id and n.supersedes_check_id = c.check_id)
      order by c.occurred_at, c.check_id`,
    [tx.groupId, packingRunId],
  );
}
