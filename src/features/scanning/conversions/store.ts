/** SQL of conversions: which lot became which. */
import type { ConversionKind } from '../../../domain/conversions.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface ConversionRow {
  readonly conversionId: string;
  readonly kind: ConversionKind;
  readonly siteId: string;
  readonly fromLotId: string;
  readonly fromQuantity: number;
  readonly toLotId: string;
  /** the scan by which the pack ends, when it has a serial number */
  readonly scanId: string | null;
  /** the new lot stands where the pack stood */
  readonly stays: boolean;
}

const COLUMNS = `c.conversion_id as "conversionId", c.kind, c.site_id as "siteId", c.from_lot_id as "fromLotId",
  c.from_quantity as "fromQuantity", c.to_lot_id as "toLotId", c.scan_id as "scanId", c.stays`;

export async function insertConversion(tx: Tx, row: ConversionRow): Promise<void> {
  await tx.query(
    `insert into conversion (group_id, conversion_id, kind, site_id, from_lot_id, from_quantity, to_lot_id, scan_id, stays)
     values ($1::uuid, $2::uuid, $3::text, $4::uuid, $5::uuid, $6::int8, $7::uuid, $8::uuid, $9::boolean)`,
    [
      tx.groupId,
      row.conversionId,
      row.kind,
      row.siteId,
      row.fromLotId,
      row.fromQuantity,
      row.toLotId,
      row.scanId,
      row.stays,
    ],
  );
}

/** The conversion that an entry belongs to: its fact, or the scan that ended the pack. */
export async function findConversion(tx: Tx, factId: string, scanId: string | null): Promise<ConversionRow | null> {
  const rows = await tx.query<ConversionRow>(
    `select ${COLUMNS} from conversion c
      where c.group_id = $1::uuid and (c.conversion_id = $2::uuid or c.scan_id = $3::uuid)`,
    [tx.groupId, factId, scanId],
  );
  return rows[0] ?? null;
}

export interface OutputRow extends ConversionRow {
  /** what brought the new lot about, as it stands now; null when it was undone */
  readonly entryId: string | null;
}

/** Conversions of these scans, with the entry that stands for what came of them. */
export async function listOutputs(tx: Tx, scanIds: readonly string[]): Promise<OutputRow[]> {
  return tx.query<OutputRow>(
    `select ${COLUMNS},
            (select e.entry_id from entry e
              where e.group_id = c.group_id and e.fact_id = c.conversion_id and e.kind = 'conversion'
                and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
              order by e.seq desc limit 1) as "entryId"
       from conversion c
      where c.group_id = $1::uuid and c.scan_id = any($2::uuid[])
      order by c.conversion_id`,
    [tx.groupId, scanIds],
  );
}

/** The entry by which a conversion's new lot stands now. */
export async function findOutputEntryId(tx: Tx, conversionId: string): Promise<string | null> {
  const rows = await tx.query<{ entryId: string }>(
    `select e.entry_id as "entryId" from entry e
      where e.group_id = $1::uuid and e.fact_id = $2::uuid and e.kind = 'conversion'
        and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
      order by e.seq desc limit 1`,
    [tx.groupId, conversionId],
  );
  return rows[0]?.entryId ?? null;
}

/**
 * The date in force now of what was frozen, for a lot that came of freezing: it may have come forward since. Looked for as far back as the
 * lot was only portioned or decanted in between.
 */
export async function findFrozenFrom(
  tx: Tx,
  lotId: string,
): Promise<{ useByAtMs: number | null; isDate: boolean } | null> {
  const rows = await tx.query<{ useByAtMs: number | null; isDate: boolean }>(
    `with recursive up (lot_id, kind, depth) as (
       select c.from_lot_id, c.kind, 1 from conversion c where c.group_id = $1::uuid and c.to_lot_id = $2::uuid
       union all
       select c.from_lot_id, c.kind, up.depth + 1
         from up join conversion c on c.group_id = $1::uuid and c.to_lot_id = up.lot_id
        where up.kind in ('decant', 'portion', 'open') and up.depth < 50
     )
     select case when s.use_by_at = 'infinity' then null else (extract(epoch from s.use_by_at) * 1000)::int8 end as "useByAtMs",
            s.use_by_date is not null as "isDate"
       from up join lot_state s on s.group_id = $1::uuid and s.lot_id = up.lot_id
      where up.kind = 'freeze'
      order by up.depth limit 1`,
    [tx.groupId, lotId],
  );
  return rows[0] ?? null;
}
