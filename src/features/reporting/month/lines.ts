/**
 * The ledger lines behind the numbers of a month: one row a posting, on the line on which the report counts it. Which line that is is
 * asked of the domain for every combination there can be, and handed to the database as a table, so that both tell the same.
 */
import { lineOf, type Line } from '../../../domain/month/lines.ts';
import { monthsOn } from '../../../domain/month/periods.ts';
import { monthBounds } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findUnitCosts, loadCosts, FINE_PER_MINOR, type CostView } from '../costs/index.ts';
import { CROSSES, FLOW_COLUMNS } from './flow-sql.ts';
import { NOT_SAID } from './hrefs.ts';
import { readingOf, type Asked, type Reading } from './scope.ts';

export interface LineFilter {
  readonly itemId?: string | undefined;
  /** opening and closing: every line before the months asked for, or up to their end */
  readonly line?: Line | undefined;
  /** the book that it came into or left: a site's id, or road */
  readonly at?: string | undefined;
  readonly reason?: string | undefined;
  /** not-said: none */
  readonly destination?: string | undefined;
  readonly material?: 'food' | 'inedible-parts' | undefined;
  /** the closed month in which it happened, of what came late */
  readonly lateMonth?: string | undefined;
  readonly lateKind?: 'recorded-late' | 'undone' | undefined;
}

export interface ReportLine {
  readonly seq: number;
  readonly lineNo: number;
  readonly entryId: string;
  /** the site's date */
  readonly occurredOn: string;
  /** RFC 3339, UTC */
  readonly recordedAt: string;
  /** null: on the road */
  readonly siteId: string | null;
  readonly siteName: string;
  readonly itemId: string;
  readonly itemCode: string;
  readonly itemName: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly line: string;
  readonly reason: string | null;
  readonly destination: string | null;
  readonly material: 'food' | 'inedible-parts' | null;
  /** as it counts on its line; on opening and closing: into the books above zero, out of them below */
  readonly quantity: number;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  /** to the milligram */
  readonly grams: number;
  /** minor units, to the millionth */
  readonly valueMinor: number;
  /** the closed month in which it happened, when it came late */
  readonly lateMonth: string | null;
}

type LineRow = Omit<ReportLine, 'recordedAt' | 'valueMinor'> & { readonly recordedAt: Date };

const KINDS = ['place', 'transit', 'supplier', 'produced', 'variance', 'consumed', 'waste', 'served'] as const;
const USES = ['staff-meal', 'donation', 'tasting', 'laboratory', ''] as const;
const ENTRY_KINDS = ['opening-stock', 'stock-count', ''] as const;

/** Every way in which a posting can stand on a line: `comes|other|entry kind|use` to the line and the sign with which it counts there. */
const WAYS = Object.fromEntries(
  [true, false].flatMap((comes) =>
    KINDS.flatMap((other) =>
      ENTRY_KINDS.flatMap((entryKind) =>
        USES.map((use) => {
          const [inside, outside] = [
            { kind: 'place', book: '' },
            { kind: other, book: null },
          ];
          const sides = comes ? { from: outside, to: inside } : { from: inside, to: outside };
          const { line, sign } = lineOf({ entryKind, reason: use, ...sides }, comes);
          return [`${comes}|${other}|${entryKind}|${use}`, [line, sign]];
        }),
      ),
    ),
  ),
);

export interface PageOfLines {
  readonly after: readonly [seq: number, lineNo: number] | null;
  readonly limit: number;
}

/** An account as a side, looked up by its key. */
const sideOf = (accountId: string): string =>
  `select replace(a.kind, '-shortfall', '') as kind, case when a.kind like 'place%' then a.site_id end as site_id
     from account a where a.group_id = $1::uuid and a.account_id = ${accountId}`;

/**
 * Postings first, then each table by its key, in the order in which they stand: on a database that is half analysed the planner takes a handful of
 * postings for one and puts them innermost of everything, which took ten seconds for a hundred.
 */
async function joinsAsWritten(tx: Tx): Promise<void> {
  await tx.query(`select set_config('join_collapse_limit', '1', true), set_config('from_collapse_limit', '1', true)`);
}

async function joinsAsPlanned(tx: Tx): Promise<void> {
  await tx.query('set local join_collapse_limit to default');
  await tx.query('set local from_collapse_limit to default');
}

async function joinedAsWritten<T>(tx: Tx, read: () => Promise<T>): Promise<T> {
  await joinsAsWritten(tx);
  const answer = await read();
  await joinsAsPlanned(tx);
  return answer;
}

/** The statement and its parameters. `aboveSeq`: entries after this one. */
function statement(
  tx: Tx,
  reading: Reading,
  filter: LineFilter,
  page: Pick<PageOfLines, 'after'> & { readonly limit: number | null },
  aboveSeq = 0,
  throughSeq = reading.cut.seq,
): [string, unknown[]] {
  const { month, throughMonth, siteIds, closes } = reading;
  const standing = filter.line === 'opening' || filter.line === 'closing';
  const through = filter.line === 'opening' ? monthsOn(month, -1) : throughMonth;
  const lastBefore = closes.filter((close) => close.month < month).at(-1);
  const text = `with k as materialized (
       select k.cut, k.next_month from unnest($2::int8[], $3::date[]) as k(cut, next_month)
     ), p as materialized (
       select p.group_id, p.seq, p.line_no, p.lot_id, p.from_account_id, p.to_account_id, p.quantity, p.reason, p.destination, p.material,
              p.occurred_on
         from posting p
        where p.group_id = $1::uuid and p.seq > $24::int8 and p.seq <= $5::int8 and p.occurred_on < $6::date
          and ($7::date is null or p.occurred_on >= $7::date or p.seq > $8::int8)
          and ($9::int8 is null or (p.seq, p.line_no) > ($9::int8, $10::int))
          and ($11::uuid is null or p.lot_id in (select l.lot_id from lot l where l.group_id = $1::uuid and l.item_id = $11::uuid))
     ), flow as materialized (
       select p.seq, p.line_no, p.occurred_on, e.entry_id, e.recorded_at, ${FLOW_COLUMNS}
         from p
         join entry e on e.group_id = p.group_id and e.seq = p.seq
         join lateral (${sideOf("case when e.kind = 'reversal' then p.to_account_id else p.from_account_id end")}) f on true
         join lateral (${sideOf("case when e.kind = 'reversal' then p.from_account_id else p.to_account_id end")}) t on true
        where ${CROSSES}
     ), crossing as (
       select f.*, greatest(f.month, (select max(k.next_month) from k where f.seq > k.cut)) as period,
              f.to_kind in ('place', 'transit') and ($12::uuid[] is null or f.to_site_id = any($12::uuid[])) as comes,
              f.from_kind in ('place', 'transit') and ($12::uuid[] is null or f.from_site_id = any($12::uuid[])) as goes
         from flow f
     ), line as (
       select c.*, case when c.comes then c.to_kind else c.from_kind end as inside_kind,
              case when c.comes then c.to_site_id else c.from_site_id end as inside_site_id,
              case when $13::boolean then $14::text else w.way ->> 0 end as line,
              case when not $13::boolean then (w.way ->> 1)::int when c.comes then 1 else -1 end as sign
         from crossing c
        cross join lateral (
          select $4::jsonb -> concat_ws('|', c.comes::text, case when c.comes then c.from_kind else c.to_kind end,
                   case when c.entry_kind in ('opening-stock', 'stock-count') then c.entry_kind else '' end,
                   case when c.reason in ('staff-meal', 'donation', 'tasting', 'laboratory') then c.reason else '' end) as way) w
        where c.comes <> c.goes and c.period <= $15::date and ($13::boolean or c.period >= $16::date)
     )
     select n.seq, n.line_no as "lineNo", n.entry_id as "entryId", n.occurred_on as "occurredOn", n.recorded_at as "recordedAt",
            n.inside_site_id as "siteId", coalesce(s.name, 'On the road') as "siteName", l.item_id as "itemId", i.code as "itemCode",
            i.name as "itemName", n.lot_id as "lotId", l.code as "lotCode", n.line, n.reason, n.destination, n.material,
            n.sign * n.quantity as quantity, l.unit,
            round(n.sign * n.quantity::numeric * l.mass_mg / l.quantity / 1000, 3)::float8 as grams,
            case when n.period > n.month then to_char(n.month, 'YYYY-MM') end as "lateMonth"
       from line n
       join lot l on l.group_id = $1::uuid and l.lot_id = n.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       left join site s on s.group_id = $1::uuid and s.site_id = n.inside_site_id
      where ($14::text is null or n.line = $14::text)
        and ($17::text is null or coalesce(n.inside_site_id::text, 'road') = $17::text)
        and ($18::text is null or coalesce(n.reason, case when n.line = 'wasted' then 'other' end) = $18::text)
        and ($19::text is null or coalesce(n.destination, '${NOT_SAID}') = $19::text)
        and ($20::text is null or coalesce(n.material, 'food') = $20::text)
        and ($21::date is null or (n.month = $21::date and n.period > n.month))
        and ($22::boolean is null or n.undoes = $22::boolean)
      order by n.seq, n.line_no
      limit $23::int`;
  const start = monthBounds(month).from;
  return [
    text,
    [
      tx.groupId,
      closes.map((close) => close.cutSeq),
      closes.map((close) => `${monthsOn(close.month, 1)}-01`),
      JSON.stringify(WAYS),
      throughSeq,
      monthBounds(through).to,
      standing ? null : start,
      lastBefore?.cutSeq ?? '9223372036854775807',
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      filter.itemId ?? null,
      siteIds,
      standing,
      filter.line ?? null,
      `${through}-01`,
      start,
      filter.at ?? null,
      filter.reason ?? null,
      filter.destination ?? null,
      filter.material ?? null,
      filter.lateMonth === undefined ? null : `${filter.lateMonth}-01`,
      filter.lateKind === undefined ? null : filter.lateKind === 'undone',
      page.limit,
      aboveSeq,
    ],
  ];
}

async function withWorth(tx: Tx, costs: CostView, rows: readonly LineRow[]): Promise<ReportLine[]> {
  const units = await findUnitCosts(tx, costs, [...new Set(rows.map((row) => row.lotId))]);
  return rows.map((row) => {
    const fine = BigInt(row.quantity) * (units.get(row.lotId)?.unitFine ?? 0n);
    return { ...row, recordedAt: row.recordedAt.toISOString(), valueMinor: inMillionths(fine) };
  });
}

/** Fine units in minor units to the millionth; what is cut off there is less than any printer shows. */
const inMillionths = (fine: bigint): number => Number((fine * 1_000_000n) / FINE_PER_MINOR) / 1_000_000;

/** Without an item a page is found in windows of so many entries: the month's millions are not sorted for a hundred of them. */
const WINDOW_ENTRIES = 20_000;

/** Entries up to this one have nothing of the months asked for: the stretches that are summed say so. */
async function emptyThrough(tx: Tx, { month, closes }: Reading): Promise<number> {
  const rows = await tx.query<{ seq: number }>(
    `select coalesce(min(s.from_seq) filter (where s.last_month >= $2::date), max(s.to_seq), 0)::int8 as seq
       from flow_stretch s where s.group_id = $1::uuid`,
    [tx.groupId, monthBounds(month).from],
  );
  const lastBefore = closes.filter((close) => close.month < month).at(-1);
  return Math.min(rows[0]?.seq ?? 0, lastBefore?.cutSeq ?? Number.MAX_SAFE_INTEGER);
}

/** One page of lines in order of seq, one more than the page holds. */
export async function listLinePage(
  tx: Tx,
  reading: Reading,
  costs: CostView,
  filter: LineFilter,
  page: PageOfLines,
): Promise<ReportLine[]> {
  const found: LineRow[] = [];
  const standing = filter.line === 'opening' || filter.line === 'closing';
  const first = page.after === null ? 0 : page.after[0] - 1;
  const whole = filter.itemId !== undefined;
  let above = whole || standing ? first : Math.max(first, await emptyThrough(tx, reading));
  while (above < reading.cut.seq && found.length < page.limit) {
    const through = whole ? reading.cut.seq : Math.min(above + WINDOW_ENTRIES, reading.cut.seq);
    const rest = { ...page, limit: page.limit - found.length };
    const [text, values] = statement(tx, reading, filter, rest, above, through);
    found.push(...(await joinedAsWritten(tx, () => tx.query<LineRow>(text, values))));
    above = through;
  }
  return withWorth(tx, costs, found);
}

/** Every line of the months asked for, for files; a part at a time. */
export async function* listLinesOf(tx: Tx, asked: Asked, filter: LineFilter = {}): AsyncIterable<ReportLine> {
  const reading = await readingOf(tx, asked);
  const costs = await loadCosts(tx, reading.cut);
  const [text, values] = statement(tx, reading, filter, { after: null, limit: null });
  await joinsAsWritten(tx);
  let planned = false;
  for await (const rows of tx.rows<LineRow>(text, values)) {
    if (!planned) await joinsAsPlanned(tx);
    planned = true;
    yield* await withWorth(tx, costs, rows);
  }
  if (!planned) await joinsAsPlanned(tx);
}

/** How many listLinesOf gives, so that whoever waits for them can see how far it is. */
export async function countLinesOf(tx: Tx, asked: Asked): Promise<number> {
  const reading = await readingOf(tx, asked);
  const [text, values] = statement(tx, reading, {}, { after: null, limit: null });
  const count = `select count(*)::int8 as count from (${text}) lines`;
  const rows = await joinedAsWritten(tx, () => tx.query<{ count: number }>(count, values));
  return rows[0]?.count ?? 0;
}
