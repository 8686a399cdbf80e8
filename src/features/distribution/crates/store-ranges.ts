/** SQL of the ranges that SSCCs are taken from. */
import type { Tx } from '../../../platform/db/db.ts';

export interface SsccRangeRow {
  readonly rangeId: string;
  readonly companyPrefix: string;
  readonly extensionDigit: number;
  readonly firstSerial: number;
  readonly lastSerial: number;
  readonly addedAt: Date;
}

const COLUMNS = `r.sscc_range_id as "rangeId", r.company_prefix as "companyPrefix", r.extension_digit as "extensionDigit",
  r.first_serial as "firstSerial", r.last_serial as "lastSerial", r.added_at as "addedAt"`;

export async function listRanges(tx: Tx): Promise<SsccRangeRow[]> {
  return tx.query<SsccRangeRow>(`select ${COLUMNS} from sscc_range r where r.group_id = $1::uuid order by r.position`, [
    tx.groupId,
  ]);
}

/** Whoever makes numbers waits here for whoever makes some now, and then reads what was given. */
export async function lockRanges(tx: Tx): Promise<SsccRangeRow[]> {
  return tx.query<SsccRangeRow>(
    `select ${COLUMNS} from sscc_range r where r.group_id = $1::uuid order by r.position for no key update`,
    [tx.groupId],
  );
}

export async function setLastSerials(
  tx: Tx,
  taken: readonly Pick<SsccRangeRow, 'rangeId' | 'lastSerial'>[],
): Promise<void> {
  await tx.query(
    `update sscc_range r set last_serial = t.last_serial
       from unnest($2::uuid[], $3::int8[]) as t(range_id, last_serial)
      where r.group_id = $1::uuid and r.sscc_range_id = t.range_id`,
    [tx.groupId, taken.map((one) => one.rangeId), taken.map((one) => one.lastSerial)],
  );
}

export async function insertRange(
  tx: Tx,
  row: Omit<SsccRangeRow, 'addedAt' | 'lastSerial'> & { readonly position: number },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into sscc_range (group_id, sscc_range_id, company_prefix, extension_digit, first_serial, last_serial, position,
            added_at)
     values ($1::uuid, $2::uuid, $3::text, $4::smallint, $5::int8, $5::int8 - 1, $6::int, to_timestamp($7::float8 / 1000))`,
    [tx.groupId, row.rangeId, row.companyPrefix, row.extensionDigit, row.firstSerial, row.position, nowMs],
  );
}

/** Placements of one group wait for each other, since two at once could make a ring; so do new ranges. Locks nothing else after it. */
export async function lockGroup(tx: Tx): Promise<void> {
  await tx.query('select g.group_id from groups g where g.group_id = $1::uuid for no key update', [tx.groupId]);
}

/** The group's own prefix, for what else is named by it. */
export async function setCompanyPrefix(tx: Tx, companyPrefix: string): Promise<void> {
  await tx.query('update groups g set gs1_company_prefix = $2::text where g.group_id = $1::uuid', [
    tx.groupId,
    companyPrefix,
  ]);
}
