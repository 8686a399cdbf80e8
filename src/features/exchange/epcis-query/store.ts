/** SQL of the EPCIS queries: reads the projection that the EPCIS part of the exchange keeps. */
import type { Condition, EpcisQuery } from '../../../domain/epcis/query.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import { whereOf } from './conditions.ts';

export interface EventRow {
  readonly eventNo: string;
  /** as text with microseconds, for the next page */
  readonly eventTime: string;
  readonly recordTime: string;
  readonly recordedAt: Date;
  readonly body: Readonly<Record<string, unknown>>;
}

export interface After {
  readonly key: string;
  readonly eventNo: string;
}

const VISIBLE = `e.group_id = $1::uuid and ($2::boolean or e.site_ids && $3::uuid[])`;
const visibleTo = (tx: Tx, scope: SiteScope): unknown[] => [tx.groupId, scope.all, scope.siteIds];

const ORDERS = {
  recorded: { column: 'e.event_no', cast: 'bigint' },
  eventTime: { column: 'e.event_time', cast: 'timestamptz' },
  recordTime: { column: 'e.record_time', cast: 'timestamptz' },
} as const;

export async function findEvents(
  tx: Tx,
  scope: SiteScope,
  query: Pick<EpcisQuery, 'conditions' | 'orderBy' | 'direction'>,
  after: After | null,
  limit: number,
): Promise<EventRow[]> {
  const { column, cast } = ORDERS[query.orderBy];
  const [compare, direction] = query.direction === 'ASC' ? ['>', 'asc'] : ['<', 'desc'];
  const first = [...visibleTo(tx, scope), after?.key ?? null, after?.eventNo ?? null, limit];
  const where = whereOf(query.conditions, first);
  return tx.query<EventRow>(
    `select e.event_no::text as "eventNo", e.event_time::text as "eventTime", e.record_time::text as "recordTime",
            e.record_time as "recordedAt", e.body
       from epcis_event e
      where ${VISIBLE} and ($4::text is null or (${column}, e.event_no) ${compare} ($4::text::${cast}, $5::bigint))${where.sql}
      order by ${column} ${direction}, e.event_no ${direction} limit $6::int`,
    where.values,
  );
}

/** How many there are, counted no further than `most`. */
export async function countEvents(
  tx: Tx,
  scope: SiteScope,
  conditions: readonly Condition[],
  most: number,
): Promise<number> {
  const where = whereOf(conditions, [...visibleTo(tx, scope), most]);
  const rows = await tx.query<{ count: number }>(
    `select count(*)::int as count from (select 1 from epcis_event e where ${VISIBLE}${where.sql} limit $4::int) counted`,
    where.values,
  );
  return rows[0]?.count ?? 0;
}

const NAMED = {
  epcs: `unnest(e.epcs || e.input_epcs || e.output_epcs || e.classes || e.input_classes || e.output_classes
           || array_remove(array[e.parent], null))`,
  bizSteps: 'unnest(array[e.biz_step])',
  bizLocations: 'unnest(array[e.biz_location])',
  readPoints: 'unnest(array[e.read_point])',
  dispositions: 'unnest(array[e.disposition])',
} as const;

export type Resource = keyof typeof NAMED;

/** What the events name, in the order of its text, without repeats. */
export async function findNamed(
  tx: Tx,
  scope: SiteScope,
  resource: Resource,
  after: string | null,
  limit: number,
): Promise<string[]> {
  const rows = await tx.query<{ name: string }>(
    `select distinct n.name collate "C" as name from epcis_event e cross join lateral ${NAMED[resource]} n(name)
      where ${VISIBLE} and n.name is not null and ($4::text is null or n.name collate "C" > $4::text)
      order by 1 limit $5::int`,
    [...visibleTo(tx, scope), after, limit],
  );
  return rows.map(({ name }) => name);
}
