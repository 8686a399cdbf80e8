/**
 * Fills the bench database with one month of a large group as the service would have written it: 150,000 lots, and four million postings,
 * most of them packs that were scanned one by one on arrival, put away and served at meals. Made by the database itself, as the owner;
 * foreign keys are not checked while loading.
 *
 * Of every ten lots two are deliveries, one is a cooked load and seven are runs of packs.
 */
import pg from 'pg';

export interface MonthWorld {
  readonly postings: number;
  readonly lots: number;
  /** about the middle of the month: an entry at which costs are known */
  readonly middleSeq: number;
  readonly middleAtMs: number;
}

const MONTH_START = '2026-10-01';
const SITES = 25;
const WARDS = SITES - 1;
const ITEMS = 300;
/** Packs in a run: each is scanned on arrival, put away, and served or thrown away. */
const PACKS = 12;
const HASH = `decode(repeat('00', 32), 'hex')`;

/** Ids follow from words, so that each statement can name them. */
const id = (words: string): string => `md5(${words})::uuid`;
const site = (n: string): string => id(`'site' || ${n}`);
const place = (n: string, name: string): string => id(`'place-${name}' || ${n}`);
const outside = (kind: string, n: string): string => id(`'outside-${kind}' || ${n}`);
const lot = id(`'lot' || l.n`);
/** Between 0 and 1, from the seed, the lot and a word. */
const chance = (word: string): string =>
  `(('x' || substr(md5(${word} || l.n || $2), 1, 7))::bit(28)::int / 268435456.0)`;

const OUTSIDE = ['supplier', 'consumed', 'produced', 'served', 'waste', 'variance'] as const;

const CATALOGUE = [
  `insert into site (group_id, site_id, code, name, kind, time_zone, jurisdiction, receiving_place_id, quarantine_place_id)
   select $1::uuid, ${site('n')}, 'S' || n, 'Site ' || n, case when n = 0 then 'central-kitchen' else 'satellite' end, 'Europe/London',
          'GB-ENG', ${place('n', 'door')}, ${place('n', 'door')} from generate_series(0, ${WARDS}) n`,
  `insert into place (group_id, place_id, site_id, code, name, kind)
   select $1::uuid, md5('place-' || k || n)::uuid, ${site('n')}, k, k, 'chiller'
     from generate_series(0, ${WARDS}) n, unnest(array['door', 'chiller']) k`,
  `insert into account (group_id, account_id, kind, site_id, sign)
   select $1::uuid, md5('place-' || k || n)::uuid, 'place', ${site('n')}, 1
     from generate_series(0, ${WARDS}) n, unnest(array['door', 'chiller']) k
   union all
   select $1::uuid, md5('outside-' || k || n)::uuid, k, ${site('n')}, 0
     from generate_series(0, ${WARDS}) n, unnest(array['${OUTSIDE.join("', '")}']) k`,
  // a van a day and ward
  `insert into account (group_id, account_id, kind, site_id, to_site_id, sign)
   select $1::uuid, md5('van' || d || '/' || n)::uuid, 'transit', ${site('0')}, ${site('n')}, 1
     from generate_series(0, 31) d, generate_series(1, ${WARDS}) n`,
  `insert into item (group_id, item_id, code, name, kind, unit, net_weight_mg, handling, storage_instruction, category)
   select $1::uuid, ${id(`'item' || n`)}, 'I' || n, 'Item ' || n, k.kind, k.unit, k.mg, 'ready-to-eat', 'Keep cool', 'C' || n % 12
     from generate_series(0, ${ITEMS - 1}) n
     cross join lateral (select case n % 10 when 0 then 'ingredient' when 1 then 'ingredient' when 2 then 'prepared' else 'packed' end as kind,
                                case when n % 10 < 3 then 'g' else 'piece' end as unit, case when n % 10 < 3 then 1000 else 300000 end as mg) k`,
];

const NUMBERED = (lots: number): string => `generate_series(0, ${lots - 1}) as l(n)`;
/** The lot's first day, 0 to 25, and the ward that its packs go to. */
const DAY = `(floor(${chance("'day'")} * 26))::int`;
const WARD = `(1 + floor(${chance("'ward'")} * ${WARDS}))::int`;
const SIZE = `case when l.n % 10 < 3 then 20000 else ${PACKS} end`;

const LOTS = (lots: number): string =>
  `insert into lot (group_id, lot_id, code, item_id, unit, quantity, mass_mg, origin, site_id, born_at, handling, storage_instruction,
          use_by_basis, allergens, may_contain)
   select $1::uuid, ${lot}, 'L' || l.n, md5('item' || (l.n % 10 + 10 * floor(${chance("'item'")} * ${ITEMS / 10})::int))::uuid,
          case when l.n % 10 < 3 then 'g' else 'piece' end, ${SIZE},
          case when l.n % 10 < 3 then 20000000 else 3500000 + floor(${chance("'mass'")} * 20)::int * 10000 end,
          case when l.n % 10 < 2 then 'supplied' when l.n % 10 = 2 then 'produced' else 'packed' end, ${site('0')},
          '${MONTH_START}'::timestamptz + make_interval(days => ${DAY}), 'ready-to-eat', 'Keep cool', 'null', '{}', '{}'
     from ${NUMBERED(lots)}`;

const event = (when: string, kind: string, from: string, to: string, quantity: string, more = 'null, null'): string =>
  `select ${when} as minute, l.n, '${kind}' as kind, ${from} as from_id, ${to} as to_id, ${quantity} as quantity, ${more}`;
const minutes = (day: string, from: number, spread: number, word: string): string =>
  `(l.day + ${day}) * 1440 + ${from} + ${chance(word)} * ${spread}`;

/** Kitchen food is bought or cooked, used up in five parts; packs are made, sent, scanned in and served at the meals of three days. */
const EVENTS = (lots: number): string => {
  const kitchen = place('0', 'chiller');
  const van = `md5('van' || l.day + 1 || '/' || l.ward)::uuid`;
  const [door, chiller] = [place('l.ward', 'door'), place('l.ward', 'chiller')];
  const packs = `generate_series(1, ${PACKS}) pack`;
  const meal = `(1 + pack / 5) * 1440 + (pack % 2) * 360`;
  return `create temp table event as
   with l as materialized (select l.n, ${DAY} as day, ${WARD} as ward from ${NUMBERED(lots)})
   ${event(minutes('0', 360, 60, "'in'"), 'goods-receipt', outside('supplier', '0'), kitchen, '20000', 'null as reason, null as destination')}
     from l where l.n % 10 < 2
   union all ${event(minutes('0', 500, 60, "'out'"), 'batch-output', outside('produced', '0'), kitchen, '20000')} from l where l.n % 10 = 2
   union all ${event(`${minutes('0', 600, 30, "'use'")} + part * 300`, 'batch-input', kitchen, outside('consumed', '0'), '3900')}
     from l, generate_series(1, 5) part where l.n % 10 < 3
   union all ${event(minutes('1', 300, 60, "'trim'"), 'discard', kitchen, outside('waste', '0'), '300', `'trim', 'composting'`)}
     from l where l.n % 10 < 3
   union all ${event(minutes('0', 900, 200, "'pack'"), 'packing', outside('produced', '0'), kitchen, String(PACKS))} from l where l.n % 10 > 2
   union all ${event(minutes('1', 300, 60, "'van'"), 'dispatch', kitchen, van, String(PACKS))} from l where l.n % 10 > 2
   union all ${event(`${minutes('1', 480, 60, "'arrive'")} + pack * 0.1`, 'receipt', van, door, '1')} from l, ${packs} where l.n % 10 > 2
   union all ${event(`${minutes('1', 560, 60, "'away'")} + pack * 0.1`, 'move', door, chiller, '1')} from l, ${packs} where l.n % 10 > 2
   union all ${event(`${minutes('1', 720, 90, "'eat'")} + ${meal} + pack * 0.2`, 'use', chiller, outside('served', 'l.ward'), '1')}
     from l, ${packs} where l.n % 10 > 2 and pack < 11
   union all ${event(`${minutes('4', 900, 60, "'bin'")}`, 'discard', chiller, outside('waste', 'l.ward'), '1', `'past-use-by', 'anaerobic-digestion'`)}
     from l where l.n % 10 > 2`;
};

const POSTED = [
  `create temp table told as
   select row_number() over (order by e.minute, e.n, e.kind, e.to_id) as seq, ${id(`'lot' || e.n`)} as lot_id, e.kind, e.from_id, e.to_id,
          e.quantity, e.reason, e.destination,
          '${MONTH_START}'::timestamptz + least(e.minute, 44639) * interval '1 minute' as at
     from event e`,
  `insert into entry (group_id, seq, entry_id, kind, fact_id, site_id, occurred_at, occurred_on, recorded_at, actor_id, content_hash, leaf_hash)
   select $1::uuid, t.seq, ${id(`'entry' || t.seq`)}, t.kind, ${id(`'entry' || t.seq`)}, ${site('0')}, t.at, t.at::date, t.at, $1::uuid,
          ${HASH}, ${HASH} from told t order by t.seq`,
  `insert into posting (group_id, seq, line_no, lot_id, from_account_id, to_account_id, quantity, basis, reason, destination, occurred_at, occurred_on)
   select $1::uuid, t.seq, 1, t.lot_id, t.from_id, t.to_id, t.quantity, 'counted', t.reason, t.destination, t.at, t.at::date
     from told t order by t.seq`,
  `insert into balance (group_id, lot_id, account_id, sign, quantity)
   select $1::uuid, x.lot_id, x.account_id, a.sign, sum(x.quantity)
     from (select t.lot_id, t.to_id as account_id, t.quantity from told t
           union all select t.lot_id, t.from_id, -t.quantity from told t) x
     join account a on a.account_id = x.account_id
    group by x.lot_id, x.account_id, a.sign`,
  `update group_head set last_seq = (select max(t.seq) from told t), last_recorded_at = (select max(t.at) from told t)
    where group_id = $1::uuid`,
];

/** As the job leaves them: a row a lot at the first checkpoint after it was known. */
const COSTS = [
  `insert into cost_checkpoint (group_id, seq, money_no, made_at) values ($1::uuid, $2::int8, 0, now()), ($1::uuid, $3::int8, 0, now())`,
  `insert into lot_cost (group_id, lot_id, at_seq, at_money_no, unit_fine, bought_ug_per_unit, unpriced_ppm)
   select $1::uuid, x.lot_id, case when x.first_seq <= $2::int8 then $2::int8 else $3::int8 end, 0,
          case when l.unit = 'g' then 523456789012345678 else 151234567890123456789 end + l.mass_mg, 1, 0
     from (select p.lot_id, min(p.seq) as first_seq from posting p where p.group_id = $1::uuid group by p.lot_id) x
     join lot l on l.group_id = $1::uuid and l.lot_id = x.lot_id`,
];

export async function fillWithMonth(
  databaseUrl: string,
  groupId: string,
  { seed, lots, say }: { seed: number; lots: number; say: (line: string) => void },
): Promise<MonthWorld> {
  const client = new pg.Client(databaseUrl);
  await client.connect();
  try {
    // As superuser: triggers, foreign keys among them, are off.
    await client.query(`set session_replication_role = replica; set work_mem = '256MB'; set timezone = 'UTC'`);
    const run = (text: string, ...values: unknown[]) => client.query(text, values);
    for (const text of CATALOGUE) await run(text, groupId);
    // CREATE TABLE takes no parameters
    await run(LOTS(lots), groupId, String(seed));
    await run(EVENTS(lots).replaceAll('$2', `'${seed}'`));
    say('what happened is made up');
    for (const text of POSTED) await (text.includes('$1') ? run(text, groupId) : run(text));
    say('entries, postings and balances are in');
    const { rows } = await client.query<{ postings: string; middle: string; at: Date }>(
      `select gh.last_seq as postings, e.seq as middle, e.recorded_at as at from group_head gh
         join entry e on e.group_id = gh.group_id and e.seq = gh.last_seq * 6 / 10 where gh.group_id = $1::uuid`,
      [groupId],
    );
    const [row] = rows;
    if (!row) throw new Error('nothing was filled in');
    await run(COSTS[0] ?? '', groupId, row.middle, row.postings);
    await run(COSTS[1] ?? '', groupId, row.middle, row.postings);
    await client.query('vacuum analyze');
    return { postings: Number(row.postings), lots, middleSeq: Number(row.middle), middleAtMs: row.at.getTime() };
  } finally {
    await client.end();
  }
}
