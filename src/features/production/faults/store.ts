/** SQL of faults that show after packing. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';
import type { FAULT_KINDS, FAULT_REASONS } from './kinds.ts';

type FaultKind = (typeof FAULT_KINDS)[number];
type FaultReason = (typeof FAULT_REASONS)[number];

export interface FaultDraft {
  readonly faultId: string;
  readonly siteId: string;
  readonly kind: FaultKind;
  readonly lotId: string;
  readonly serial: string | null;
  readonly packs: number;
  readonly reason: FaultReason | null;
  readonly note: string | null;
  readonly packingRunId: string;
  readonly occurredAtMs: number;
  readonly occurredOn: string;
  readonly recordedBy: string;
}

export async function insertFault(tx: Tx, fault: FaultDraft, nowMs: number): Promise<void> {
  await tx.query(
    `insert into pack_fault (group_id, fault_id, site_id, kind, lot_id, serial, packs, reason, note, packing_run_id, occurred_at,
            occurred_on, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::uuid, $6::text, $7::int, $8::text, $9::text, $10::uuid,
            to_timestamp($11::float8 / 1000), $12::date, to_timestamp($13::float8 / 1000), $14::uuid)`,
    [
      tx.groupId,
      fault.faultId,
      fault.siteId,
      fault.kind,
      fault.lotId,
      fault.serial,
      fault.packs,
      fault.reason,
      fault.note,
      fault.packingRunId,
      fault.occurredAtMs,
      fault.occurredOn,
      nowMs,
      fault.recordedBy,
    ],
  );
}

/**
 * The runs that sealed what is in a lot: its own, or, for food that was only frozen, thawed, opened or portioned since, those of the packs
 * that it was. At most ten steps back. By id.
 */
export async function listSealedBy(tx: Tx, lotId: string): Promise<string[]> {
  const rows = await tx.query<{ packingRunId: string }>(
    `with recursive back (lot_id, packing_run_id, origin, steps) as (
       select l.lot_id, l.packing_run_id, l.origin, 0 from lot l where l.group_id = $1::uuid and l.lot_id = $2::uuid
       union
       select l.lot_id, l.packing_run_id, l.origin, b.steps + 1
         from back b
         join lot_edge e on e.group_id = $1::uuid and e.child_lot_id = b.lot_id
         join lot l on l.group_id = e.group_id and l.lot_id = e.parent_lot_id
        where b.packing_run_id is null and b.origin = 'converted' and b.steps < 10
     )
     select distinct b.packing_run_id as "packingRunId" from back b where b.packing_run_id is not null order by 1`,
    [tx.groupId, lotId],
  );
  return rows.map((row) => row.packingRunId);
}

export interface FaultRow {
  readonly faultId: string;
  readonly siteId: string;
  readonly siteName: string;
  readonly kind: FaultKind;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly serial: string | null;
  readonly packs: number;
  readonly reason: FaultReason | null;
  readonly note: string | null;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
  readonly recordedBy: string;
  readonly packingRunId: string;
  readonly batchId: string;
  readonly batchCode: string;
  readonly packedAtSiteId: string;
  readonly equipmentId: string;
  readonly equipmentName: string;
  readonly programme: string;
  readonly packedAt: Date;
  /** all four, or none */
  readonly withdrawalId: string | null;
  readonly withdrawnBecause: string | null;
  readonly withdrawnAt: Date | null;
  readonly withdrawnBy: string | null;
}

const SELECT = `select t.fault_id as "faultId", t.site_id as "siteId", s.name as "siteName", t.kind, t.lot_id as "lotId",
            l.code as "lotCode", i.name as "itemName", t.serial, t.packs, t.reason, t.note, t.occurred_at as "occurredAt",
            t.recorded_at as "recordedAt", t.recorded_by as "recordedBy", t.packing_run_id as "packingRunId",
            r.batch_id as "batchId", b.code as "batchCode", r.site_id as "packedAtSiteId", r.equipment_id as "equipmentId",
            q.name as "equipmentName", r.programme, r.finished_at as "packedAt",
            w.withdrawal_id as "withdrawalId", w.reason as "withdrawnBecause", w.recorded_at as "withdrawnAt", w.recorded_by as "withdrawnBy"
       from pack_fault t
       join site s on s.group_id = t.group_id and s.site_id = t.site_id
       join lot l on l.group_id = t.group_id and l.lot_id = t.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       join packing_run r on r.group_id = t.group_id and r.packing_run_id = t.packing_run_id
       join batch b on b.group_id = r.group_id and b.batch_id = r.batch_id
       join equipment q on q.group_id = r.group_id and q.equipment_id = r.equipment_id
       left join pack_fault_withdrawal w on w.group_id = t.group_id and w.fault_id = t.fault_id`;

export async function findFault(tx: Tx, faultId: string): Promise<FaultRow | null> {
  const rows = await tx.query<FaultRow>(`${SELECT} where t.group_id = $1::uuid and t.fault_id = $2::uuid`, [
    tx.groupId,
    faultId,
  ]);
  return rows[0] ?? null;
}

export interface FaultFilter {
  readonly siteId: string | null;
  readonly packedAtSiteId: string | null;
  readonly packingRunId: string | null;
  readonly lotId: string | null;
  readonly kind: string | null;
  readonly fromDate: string | null;
  readonly toDate: string | null;
}

/** Newest last, one more than the page holds. */
export async function listFaults(tx: Tx, scope: SiteScope, filter: FaultFilter, page: Page): Promise<FaultRow[]> {
  return tx.query<FaultRow>(
    `${SELECT}
      where t.group_id = $1::uuid and ($2::boolean or t.site_id = any($3::uuid[]) or r.site_id = any($3::uuid[]))
        and ($4::uuid is null or t.site_id = $4::uuid) and ($5::uuid is null or r.site_id = $5::uuid)
        and ($6::uuid is null or t.packing_run_id = $6::uuid) and ($7::uuid is null or t.lot_id = $7::uuid)
        and ($8::text is null or t.kind = $8::text) and ($9::date is null or t.occurred_on >= $9::date)
        and ($10::date is null or t.occurred_on <= $10::date)
        and ($11::timestamptz is null or (t.occurred_at, t.fault_id) > ($11::timestamptz, $12::uuid))
      order by t.occurred_at, t.fault_id limit $13::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.packedAtSiteId,
      filter.packingRunId,
      filter.lotId,
      filter.kind,
      filter.fromDate,
      filter.toDate,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

interface RunFaultRow {
  readonly faultId: string;
  readonly kind: FaultKind;
  readonly packs: number;
  readonly siteName: string;
  readonly occurredAt: Date;
}

/** Those that were not withdrawn. */
export async function listFaultsOfRun(tx: Tx, packingRunId: string): Promise<RunFaultRow[]> {
  return tx.query<RunFaultRow>(
    `select t.fault_id as "faultId", t.kind, t.packs, s.name as "siteName", t.occurred_at as "occurredAt"
       from pack_fault t join site s on s.group_id = t.group_id and s.site_id = t.site_id
      where t.group_id = $1::uuid and t.packing_run_id = $2::uuid
        and not exists (select from pack_fault_withdrawal w where w.group_id = t.group_id and w.fault_id = t.fault_id)
      order by t.occurred_at, t.fault_id`,
    [tx.groupId, packingRunId],
  );
}

interface WithdrawalDraft {
  readonly withdrawalId: string;
  readonly faultId: string;
  readonly reason: string;
  readonly recordedBy: string;
}

export async function insertWithdrawal(tx: Tx, draft: WithdrawalDraft, nowMs: number): Promise<void> {
  await tx.query(
    `insert into pack_fault_withdrawal (group_id, withdrawal_id, fault_id, reason, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, to_timestamp($5::float8 / 1000), $6::uuid)`,
    [tx.groupId, draft.withdrawalId, draft.faultId, draft.reason, nowMs, draft.recordedBy],
  );
}
