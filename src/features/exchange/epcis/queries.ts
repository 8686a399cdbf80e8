/** SQL for EPCIS documents. */
import { HOLD_STEPS } from '../../../domain/epcis/steps.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { hasPlacements } from './sources-crates.ts';
import { hasPlaceDays } from './sources-days.ts';
import type { EpcisEventRow } from './rows.ts';

/** Whether something is committed of which nothing was derived. */
export async function isPending(tx: Tx, nowMs: number): Promise<boolean> {
  const rows = await tx.query<{ pending: boolean }>(
    `select g.last_seq > coalesce((select h.last_seq from epcis_head h where h.group_id = g.group_id), 0)
            or exists (
              select from hold h join hold_reach hr on hr.group_id = h.group_id and hr.hold_id = h.hold_id
               where h.group_id = g.group_id and h.kind = any($2::text[])
                 and (not exists (select from epcis_event x where x.group_id = g.group_id
                                     and x.source = 'hold|' || h.hold_id || '|' || hr.lot_id || '|placed')
                      or (h.lifted_at is not null
                          and not exists (select from epcis_event x where x.group_id = g.group_id
                                             and x.source = 'hold|' || h.hold_id || '|' || hr.lot_id || '|lifted')))
            ) as pending
       from group_head g where g.group_id = $1::uuid`,
    [tx.groupId, Object.keys(HOLD_STEPS)],
  );
  return (rows[0]?.pending ?? false) || (await hasPlacements(tx)) || hasPlaceDays(tx, nowMs);
}

export interface EpcisFilter {
  /** of eventTime, inclusive */
  readonly fromMs: number | null;
  /** of eventTime, exclusive */
  readonly toMs: number | null;
  readonly lotId: string | null;
  readonly dispatchId: string | null;
  /** null: every site */
  readonly siteIds: readonly string[] | null;
}

/** In the order in which they were derived. */
export async function listEpcisEvents(
  tx: Tx,
  { fromMs, toMs, lotId, dispatchId, siteIds }: EpcisFilter,
  { afterNo, upToNo }: { readonly afterNo: number; readonly upToNo: number },
  limit: number,
): Promise<EpcisEventRow[]> {
  return tx.query<EpcisEventRow>(
    `select x.event_no as "eventNo", x.event_id as "eventId", x.record_time as "recordTime", x.body
       from epcis_event x
      where x.group_id = $1::uuid and x.event_no > $2::int8 and x.event_no <= $9::int8
        and ($3::float8 is null or x.event_time >= to_timestamp($3::float8 / 1000))
        and ($4::float8 is null or x.event_time < to_timestamp($4::float8 / 1000))
        and ($5::uuid is null or x.lot_ids @> array[$5::uuid])
        and ($6::uuid is null or x.dispatch_id = $6::uuid)
        and ($7::uuid[] is null or x.site_ids && $7::uuid[])
      order by x.event_no
      limit $8::int`,
    [tx.groupId, afterNo, fromMs, toMs, lotId, dispatchId, siteIds, limit, upToNo],
  );
}

/** The newest event that there is; 0: none. */
export async function lastEpcisNo(tx: Tx): Promise<number> {
  const rows = await tx.query<{ lastNo: number }>(
    `select h.last_no as "lastNo" from epcis_head h where h.group_id = $1::uuid`,
    [tx.groupId],
  );
  return rows[0]?.lastNo ?? 0;
}
