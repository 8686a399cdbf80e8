/** SQL of what a check can be about: rows of features above, read only; the batch is locked, so that two checks of it come one after the other. */
import type { AboutKind, CheckedLot } from '../../../domain/process-checks/consequences.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface BatchRow {
  readonly batchId: string;
  readonly siteId: string;
  readonly code: string;
  readonly startedAt: Date;
  readonly completed: boolean;
}

export async function lockCheckedBatch(tx: Tx, batchId: string): Promise<BatchRow | null> {
  const rows = await tx.query<BatchRow>(
    `select b.batch_id as "batchId", b.site_id as "siteId", b.code, b.started_at as "startedAt",
            b.state = 'completed' as completed from batch b
      where b.group_id = $1::uuid and b.batch_id = $2::uuid for update of b`,
    [tx.groupId, batchId],
  );
  return rows[0] ?? null;
}

export async function findRun(
  tx: Tx,
  packingRunId: string,
): Promise<{ packingRunId: string; batchId: string; siteId: string } | null> {
  const rows = await tx.query<{ packingRunId: string; batchId: string; siteId: string }>(
    `select pr.packing_run_id as "packingRunId", pr.batch_id as "batchId", pr.site_id as "siteId" from packing_run pr
      where pr.group_id = $1::uuid and pr.packing_run_id = $2::uuid`,
    [tx.groupId, packingRunId],
  );
  return rows[0] ?? null;
}

export interface BornLot extends CheckedLot {
  readonly origin: 'produced' | 'packed';
  readonly packingRunId: string | null;
  /** held because a check failed: then the last word about it is not spoken */
  readonly doubted: boolean;
}

/** Packs wait with their load, by the hold that has spread to them. */
const REACHED = (kinds: string): string => `exists (
  select from hold_reach hr join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id
   where hr.group_id = l.group_id and hr.lot_id = l.lot_id and h.kind in ${kinds} and h.lifted_at is null)`;

/** Loads and packs of a batch whose birth was not reversed, with how far each is decided. */
export async function listBornLots(tx: Tx, batchId: string): Promise<BornLot[]> {
  return tx.query<BornLot>(
    `select l.lot_id as "lotId", l.code, l.origin, l.packing_run_id as "packingRunId",
            ${REACHED("('awaiting-release')")} as waits, ${REACHED("('rejected', 'for-rework')")} as rejected,
            ${REACHED("('failed-check')")} as doubted
       from entry e
       join posting p on p.group_id = e.group_id and p.seq = e.seq
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
      where e.group_id = $1::uuid and e.batch_id = $2::uuid and e.kind in ('batch-output', 'packing')
        and ((e.kind = 'batch-output' and l.batch_id = e.batch_id) or (e.kind = 'packing' and l.packing_run_id = e.packing_run_id))
        and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
      group by l.group_id, l.lot_id, l.code, l.origin, l.packing_run_id
      order by l.code`,
    [tx.groupId, batchId],
  );
}

/** The loads that a packing run took from; none of a run that is not written yet. */
export async function listLoadsOfRun(tx: Tx, packingRunId: string): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select distinct f.from_lot_id as "lotId" from packing_fill f
      where f.group_id = $1::uuid and f.packing_run_id = $2::uuid order by 1`,
    [tx.groupId, packingRunId],
  );
  return rows.map((row) => row.lotId);
}

/** By its lines: a lot may have come with several deliveries, and lots are found by no delivery. */
export async function listReceivedLots(tx: Tx, goodsReceiptId: string): Promise<CheckedLot[]> {
  return tx.query<CheckedLot>(
    `select distinct l.lot_id as "lotId", l.code, false as waits, false as rejected
       from goods_receipt_line gl
       join lot l on l.group_id = gl.group_id and l.lot_id = gl.lot_id
      where gl.group_id = $1::uuid and gl.goods_receipt_id = $2::uuid order by l.code`,
    [tx.groupId, goodsReceiptId],
  );
}

type RowAbout = Extract<AboutKind, 'goods-receipt' | 'dispatch' | 'equipment'>;

const SITES_OF: Readonly<Record<RowAbout, string>> = {
  'goods-receipt':
    'select r.site_id as "siteId" from goods_receipt r where r.group_id = $1::uuid and r.goods_receipt_id = $2::uuid',
  dispatch: `select s.site_id as "siteId" from dispatch d, unnest(array[d.from_site_id, d.to_site_id]) as s(site_id)
      where d.group_id = $1::uuid and d.dispatch_id = $2::uuid`,
  equipment: 'select e.site_id as "siteId" from equipment e where e.group_id = $1::uuid and e.equipment_id = $2::uuid',
};

/** The sites that a thing belongs to; none if it does not exist. */
export async function listSitesOf(tx: Tx, kind: RowAbout, id: string): Promise<string[]> {
  const rows = await tx.query<{ siteId: string }>(SITES_OF[kind], [tx.groupId, id]);
  return rows.map((row) => row.siteId);
}
