/** The register of samples: read from the conversions that took them and the entries that ended them. */
import { Refused } from '../../../domain/errors.ts';
import { requireDays } from '../../../domain/query-days.ts';
import { isCalendarDate } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply, SiteScope } from '../../../platform/http/contract.ts';
import { pageOf, pageReply, type Page } from '../../../platform/http/paging.ts';
import type { listRetainedSamples } from './contract-samples.ts';

interface SampleRow {
  readonly conversionId: string;
  readonly siteId: string;
  readonly sampleFor: 'retained' | 'laboratory';
  readonly lotId: string;
  readonly code: string;
  readonly itemName: string;
  readonly quantity: number;
  readonly unit: string;
  readonly fromLotId: string;
  readonly fromCode: string;
  readonly batchId: string | null;
  readonly batchCode: string | null;
  readonly takenAt: Date;
  readonly takenById: string;
  readonly takenByName: string | null;
  readonly disposeAfter: string | null;
  readonly daysAssumed: boolean;
  readonly overdue: boolean;
  readonly where: readonly {
    readonly siteId: string;
    readonly placeId: string | null;
    readonly placeName: string | null;
    readonly dispatchId: string | null;
    readonly quantity: number;
  }[];
  readonly endedAt: Date | null;
  readonly endedOn: string | null;
  readonly endedById: string | null;
  readonly endedByName: string | null;
  readonly endedHow: string | null;
  readonly endedReason: string | null;
}

/**
 * By last day and lot. Disposed: nothing of it is left in a place or on the road; `ended` is the last posting that took some of it out, as far
 * as that stands.
 */
async function listSampleRows(
  tx: Tx,
  scope: SiteScope,
  filter: { readonly siteId: string | null; readonly kept: boolean | null; readonly dueBefore: string | null },
  nowMs: number,
  page: Page,
): Promise<SampleRow[]> {
  return tx.query<SampleRow>(
    `select c.conversion_id as "conversionId", c.site_id as "siteId",
            case when exists (select from hold h where h.group_id = c.group_id and h.lot_id = c.to_lot_id and h.kind = 'awaiting-laboratory')
                 then 'laboratory' else 'retained' end as "sampleFor",
            l.lot_id as "lotId", l.code, i.name as "itemName", l.quantity, l.unit, fl.lot_id as "fromLotId", fl.code as "fromCode",
            b.batch_id as "batchId", b.code as "batchCode", l.born_at as "takenAt", e.actor_id as "takenById", tp.name as "takenByName",
            to_char(l.printed_use_by_date, 'YYYY-MM-DD') as "disposeAfter",
            jsonb_array_length(coalesce(l.use_by_basis -> 'assumed', '[]')) > 0 as "daysAssumed",
            w.on_hand > 0 and coalesce((to_timestamp($7::float8 / 1000) at time zone s.time_zone)::date > l.printed_use_by_date, false) as overdue,
            w."where", case when w.on_hand = 0 then z.occurred_at end as "endedAt",
            case when w.on_hand = 0 then to_char(z.occurred_on, 'YYYY-MM-DD') end as "endedOn", z.actor_id as "endedById",
            zp.name as "endedByName", z.kind as "endedHow", z.reason as "endedReason"
       from conversion c
       join entry e on e.group_id = c.group_id and e.fact_id = c.conversion_id and e.kind = 'conversion'
        and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
       join lot l on l.group_id = c.group_id and l.lot_id = c.to_lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       join site s on s.group_id = c.group_id and s.site_id = c.site_id
       join lot fl on fl.group_id = c.group_id and fl.lot_id = c.from_lot_id
       left join packing_run pr on pr.group_id = fl.group_id and pr.packing_run_id = fl.packing_run_id
       left join batch b on b.group_id = c.group_id and b.batch_id = coalesce(fl.batch_id, pr.batch_id)
       left join person tp on tp.group_id = e.group_id and tp.person_id = e.actor_id
       cross join lateral (
         select coalesce(sum(x.quantity), 0) as on_hand,
                coalesce(jsonb_agg(jsonb_build_object('siteId', a.site_id, 'placeId', p.place_id, 'placeName', p.name,
                  'dispatchId', case when a.kind = 'transit' then a.account_id end, 'quantity', x.quantity) order by a.site_id, a.account_id)
                  filter (where x.quantity > 0), '[]') as "where"
           from balance x
           join account a on a.group_id = x.group_id and a.account_id = x.account_id and a.sign = 1
           left join place p on p.group_id = a.group_id and p.place_id = a.account_id
          where x.group_id = l.group_id and x.lot_id = l.lot_id
       ) w
       left join lateral (
         select o.occurred_at, o.occurred_on, n.actor_id, n.kind, o.reason
           from posting o
           join entry n on n.group_id = o.group_id and n.seq = o.seq and n.kind <> 'reversal'
            and not exists (select from entry r where r.group_id = n.group_id and r.reverses_entry_id = n.entry_id)
           join account t on t.group_id = o.group_id and t.account_id = o.to_account_id and t.sign = 0
          where o.group_id = l.group_id and o.lot_id = l.lot_id and w.on_hand = 0
          order by o.occurred_at desc, o.seq desc limit 1
       ) z on true
       left join person zp on zp.group_id = c.group_id and zp.person_id = z.actor_id
      where c.group_id = $1::uuid and c.kind = 'sample'
        and ($2::boolean or c.site_id = any($3::uuid[]))
        and ($4::uuid is null or c.site_id = $4::uuid)
        and ($5::boolean is null or (w.on_hand > 0) = $5::boolean)
        and ($6::date is null or l.printed_use_by_date < $6::date)
        and ($8::text is null or (coalesce(l.printed_use_by_date, 'infinity'), l.lot_id) > ($8::date, $9::uuid))
      order by coalesce(l.printed_use_by_date, 'infinity'), l.lot_id
      limit $10::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.kept,
      filter.dueBefore,
      nowMs,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

function answerOf(row: SampleRow, scope: SiteScope) {
  const { fromLotId, fromCode, batchId, batchCode, takenById, takenByName, endedAt, endedOn, endedById, ...rest } = row;
  const { endedByName, endedHow, endedReason, ...sample } = rest;
  const disposed = endedAt &&
    endedOn !== null &&
    endedById !== null && {
      at: endedAt.toISOString(),
      on: endedOn,
      by: { id: endedById, name: endedByName },
      how: endedHow ?? '',
      reason: endedReason,
      tooEarly: row.disposeAfter !== null && endedOn < row.disposeAfter,
    };
  return {
    ...sample,
    takenAt: row.takenAt.toISOString(),
    of: { lotId: fromLotId, code: fromCode, batchId, batchCode },
    takenBy: { id: takenById, name: takenByName },
    state: disposed ? 'disposed' : 'kept',
    where: row.where.filter((one) => scope.includes(one.siteId)),
    disposed: disposed || null,
  };
}

export async function readSamples(context: Context<typeof listRetainedSamples>): Promise<Reply> {
  const { tx, scope, query, path, nowMs } = context;
  requireDays({ dueBefore: query.dueBefore });
  const dueBefore = query.dueBefore ?? null;
  const page = pageOf(query, ['text', 'uuid']);
  if (page.after && page.after[0] !== 'infinity' && !isCalendarDate(page.after[0] ?? '')) {
    throw new Refused('bad-cursor', 'The cursor could not be read.');
  }
  const filter = {
    siteId: query.siteId ?? null,
    kept: query.state === undefined ? null : query.state === 'kept',
    dueBefore,
  };
  const rows = await listSampleRows(tx, scope, filter, nowMs, page);
  const items = rows.map((row) => answerOf(row, scope));
  return pageReply(path, query, page, items, (row) => [row.disposeAfter ?? 'infinity', row.lotId]);
}
