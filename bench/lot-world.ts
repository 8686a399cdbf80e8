/**
 * Fills the bench database with made-up years of lots as the service would have written them: sites, places, items, accounts, lots and
 * their state, edges, balances, and the entries of deliveries. Rows go in by COPY from files as the owner; foreign keys are not checked
 * while loading and are counted afterwards.
 */
import { appendFileSync, chmodSync, mkdirSync, rmSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import pg from 'pg';
import { outside } from '../src/features/ledger/index.ts';
import { derivedId, exampleId } from '../src/platform/ids.ts';
import {
  adjacencyOf,
  chanceOf,
  FIRST_ITEM,
  ITEMS,
  makeYear,
  PACKED,
  PRODUCED,
  SUPPLIED,
  type LotGraph,
} from './lot-graph.ts';
import { LOTS_A_DAY, storyOf, WARDS, type Stop } from './lot-stories.ts';

const YEAR_MS = 365 * 24 * 3_600_000;
const BASE_MS = Date.UTC(2025, 10, 1);
/** Lines are written out in portions of so many. */
const PORTION = 20_000;
const NULL = '\\N';
/** An array of nothing, an object of nothing, a hash of nothing, as COPY reads them. */
const NONE = '{}';
const HASH = `\\\\x${'00'.repeat(32)}`;
export const KITCHEN = exampleId('bench/lots/kitchen');

export interface LotWorld {
  readonly graph: LotGraph;
  /** of the year that is walked; the other years are there to be in the way */
  readonly ids: readonly string[];
  readonly numbers: ReadonlyMap<string, number>;
  /** of that year as well, one for each balance */
  readonly balances: readonly Balance[];
}

interface Balance {
  readonly lot: number;
  readonly accountId: string;
  readonly quantity: number;
}

/** as the ledger derives it */
const shortfallOf = (accountId: string): string => derivedId('shortfall', accountId);
const wardId = (ward: number): string => exampleId(`bench/lots/ward/${ward}`);
const placeId = (name: string): string => exampleId(`bench/lots/place/${name}`);
const itemIds = Array.from({ length: ITEMS }, (_, item) => exampleId(`bench/lots/item/${item}`));
export const itemId = (item: number): string => itemIds[item] ?? '';
const kindOfItem = (item: number): number => FIRST_ITEM.findLastIndex((first) => item >= first);

/** A UUIDv7 as the service makes them: the time, then chance. */
function idAt(ms: number, chance: () => number): string {
  const time = ms.toString(16).padStart(12, '0');
  const part = (bits: number): string =>
    Math.floor(chance() * 2 ** bits)
      .toString(16)
      .padStart(bits / 4, '0');
  return `${time.slice(0, 8)}-${time.slice(8)}-7${part(12)}-a${part(12)}-${part(24)}${part(24)}`;
}

/** Files to copy from, one a table. */
function openTables(dir: string) {
  const lines = new Map<string, string[]>();
  const flush = (table: string): void => {
    const list = lines.get(table) ?? [];
    if (list.length > 0) appendFileSync(path.join(dir, table), `${list.join('\n')}\n`);
    list.length = 0;
  };
  return {
    add(table: string, ...values: readonly (string | number)[]): void {
      const list = lines.get(table) ?? [];
      if (list.length === 0) lines.set(table, list);
      list.push(values.join('\t'));
      if (list.length >= PORTION) flush(table);
    },
    close: () => {
      for (const table of lines.keys()) flush(table);
    },
  };
}
type Tables = ReturnType<typeof openTables>;

/** In the order of the values that are added below. */
const COLUMNS: Readonly<Record<string, string>> = {
  site: 'group_id, site_id, code, name, kind, time_zone, jurisdiction, receiving_place_id, quarantine_place_id',
  place: 'group_id, place_id, site_id, code, name, kind',
  item: 'group_id, item_id, code, name, kind, unit, net_weight_mg, handling, storage_instruction',
  supplier: 'group_id, supplier_id, code, name',
  account: 'group_id, account_id, kind, site_id, to_site_id, twin_of, sign',
  dispatch: 'group_id, dispatch_id, code, from_site_id, to_site_id, purpose, state, departed_at',
  lot:
    'group_id, lot_id, code, item_id, unit, quantity, mass_mg, origin, site_id, born_at, handling, storage_instruction, use_by_basis, ' +
    'allergens, may_contain, supplier_id, supplier_lot_code, batch_id',
  lot_state: 'group_id, lot_id, allergens, may_contain, given_back',
  lot_edge: 'group_id, parent_lot_id, child_lot_id, process_id, caps_use_by, child_leads_on, recorded_at',
  balance: 'group_id, lot_id, account_id, sign, quantity',
  entry:
    'group_id, seq, entry_id, kind, fact_id, site_id, occurred_at, occurred_on, recorded_at, actor_id, content_hash, leaf_hash',
  posting: 'group_id, seq, line_no, lot_id, from_account_id, to_account_id, quantity, basis, occurred_at, occurred_on',
};

function addPlaces(tables: Tables, groupId: string): void {
  const account = (id: string, kind: string, siteId: string): void => {
    tables.add('account', groupId, id, kind, siteId, NULL, NULL, 1);
    tables.add('account', groupId, shortfallOf(id), `${kind}-shortfall`, siteId, NULL, id, -1);
  };
  const place = (siteId: string, name: string, kind: string): void => {
    tables.add('place', groupId, placeId(name), siteId, name, name, kind);
    account(placeId(name), 'place', siteId);
  };
  const site = (siteId: string, code: string, kind: string, receiving: string, quarantine: string): void => {
    const ids = [placeId(receiving), placeId(quarantine)];
    tables.add('site', groupId, siteId, code, `Site ${code}`, kind, 'Europe/London', 'GB-ENG', ...ids);
    for (const one of ['supplier', 'consumed', 'produced', 'served', 'waste', 'variance'] as const)
      tables.add('account', groupId, outside(one, siteId), one, siteId, NULL, NULL, 0);
    place(siteId, receiving, 'prep-area');
    place(siteId, quarantine, 'chiller');
  };
  site(KITCHEN, 'K', 'central-kitchen', 'K-receiving', 'K-quarantine');
  place(KITCHEN, 'K-store', 'ambient-store');
  place(KITCHEN, 'K-chiller', 'chiller');
  for (let ward = 0; ward < WARDS; ward += 1) {
    site(wardId(ward), `W${ward}`, 'satellite', `W${ward}-receiving`, `W${ward}-quarantine`);
    place(wardId(ward), `W${ward}-chiller`, 'chiller');
  }
  for (let item = 0; item < ITEMS; item += 1) {
    const kind = (['ingredient', 'prepared', 'packed'] as const)[kindOfItem(item)] ?? 'packed';
    const unit = kind === 'packed' ? ['piece', 300_000] : ['g', 1_000];
    tables.add('item', groupId, itemId(item), `I${item}`, `Item ${item}`, kind, ...unit, 'ready-to-eat', 'Keep cool');
  }
  tables.add('supplier', groupId, exampleId('bench/lots/supplier'), 'S', 'Supplier S');
}

/** How the ids of accounts follow from a stop; said once for each, since deriving one is a hash. */
function accountsOf(year: number): (stop: Stop) => readonly [id: string, sign: number] {
  const known = new Map<string, readonly [string, number]>();
  return (stop) => {
    const key =
      stop.at === 'kitchen' ? stop.account : `${stop.at}/${stop.ward}/${stop.at === 'van' ? stop.day : stop.account}`;
    const found = known.get(key) ?? accountOf(stop, year);
    known.set(key, found);
    return found;
  };
}

function accountOf(stop: Stop, year: number): readonly [id: string, sign: number] {
  if (stop.at === 'van') return [exampleId(`bench/lots/van/${year}/${stop.day}/${stop.ward}`), 1];
  const [siteId, code] = stop.at === 'kitchen' ? [KITCHEN, 'K'] : [wardId(stop.ward), `W${stop.ward}`];
  if (stop.account === 'store' || stop.account === 'chiller' || stop.account === 'receiving')
    return [placeId(`${code}-${stop.account}`), 1];
  return [outside(stop.account, siteId), 0];
}

const at = (ms: number): string => new Date(ms).toISOString();

interface YearOf {
  readonly tables: Tables;
  readonly groupId: string;
  readonly graph: LotGraph;
  readonly year: number;
  readonly chance: () => number;
  /** the last entry of the years before */
  readonly seq: number;
}

interface Added {
  readonly ids: string[];
  /** its last entry */
  readonly seq: number;
  readonly balances: Balance[];
}

function addYear({ tables, groupId, graph, year, chance, seq }: YearOf): Added {
  const startMs = BASE_MS - year * YEAR_MS;
  const bornMs = (lot: number): number => startMs + Math.floor((lot * YEAR_MS) / graph.lots);
  const ids = Array.from({ length: graph.lots }, (_, lot) => idAt(bornMs(lot), chance));
  const { starts } = adjacencyOf(graph.lots, graph.parents, graph.children);
  const accountIn = accountsOf(year);
  const supplier = exampleId('bench/lots/supplier');
  for (let day = 0; day <= graph.lots / LOTS_A_DAY; day += 1) {
    for (let ward = 0; ward < WARDS; ward += 1) {
      const [id] = accountIn({ at: 'van', ward, day });
      const code = `D${year}-${day}-${ward}`;
      tables.add(
        'dispatch',
        groupId,
        id,
        code,
        KITCHEN,
        wardId(ward),
        'delivery',
        'departed',
        at(bornMs(day * LOTS_A_DAY)),
      );
      tables.add('account', groupId, id, 'transit', KITCHEN, wardId(ward), NULL, 1);
      tables.add('account', groupId, shortfallOf(id), 'transit-shortfall', KITCHEN, wardId(ward), id, -1);
    }
  }
  const later: { lot: number; rows: ReturnType<typeof storyOf>['later'] }[] = [];
  const balances: Balance[] = [];
  const stand = (lot: number, rows: ReturnType<typeof storyOf>['later']): void => {
    for (const { stop, quantity } of rows) {
      const [accountId, sign] = accountIn(stop);
      tables.add('balance', groupId, ids[lot] ?? '', accountId, sign, quantity);
      if (year === 0) balances.push({ lot, accountId, quantity });
    }
  };
  let last = seq;
  const entry = (lot: number, kind: string, from: Stop, to: Stop, quantity: number): void => {
    last += 1;
    const when = at(bornMs(lot));
    const day = when.slice(0, 10);
    const id = idAt(bornMs(lot), chance);
    tables.add('entry', groupId, last, id, kind, id, KITCHEN, when, day, when, exampleId('person/admin'), HASH, HASH);
    const [fromId] = accountIn(from);
    const [toId] = accountIn(to);
    tables.add('posting', groupId, last, 1, ids[lot] ?? '', fromId, toId, quantity, 'weighed', when, day);
  };
  for (let lot = 0; lot < graph.lots; lot += 1) {
    const id = ids[lot] ?? '';
    const kind = graph.kinds[lot] ?? SUPPLIED;
    const item = graph.items[lot] ?? 0;
    const story = storyOf(graph, lot, (starts[lot + 1] ?? 0) - (starts[lot] ?? 0), chance);
    const origin = ['supplied', 'produced', 'packed'][kind] ?? 'packed';
    const unit =
      kind === PACKED
        ? ['piece', story.quantity, story.quantity * 300_000]
        : ['g', story.quantity, story.quantity * 1_000];
    const from =
      kind === SUPPLIED ? [supplier, `SL-${year}-${lot}`, NULL] : [NULL, NULL, kind === PRODUCED ? id : NULL];
    const fixed = ['ready-to-eat', 'Keep at 3 °C or below', NONE, NONE, NONE];
    tables.add(
      'lot',
      groupId,
      id,
      `L${year}-${lot}`,
      itemId(item),
      ...unit,
      origin,
      KITCHEN,
      at(bornMs(lot)),
      ...fixed,
      ...from,
    );
    tables.add('lot_state', groupId, id, NONE, NONE, story.returned > 0 ? 't' : 'f');
    stand(lot, story.kitchen);
    if (kind === SUPPLIED) {
      const [bought, stored]: [Stop, Stop] = [
        { at: 'kitchen', account: 'supplier' },
        { at: 'kitchen', account: 'store' },
      ];
      entry(lot, 'goods-receipt', bought, stored, story.quantity);
      if (story.returned > 0) entry(lot, 'return', stored, bought, story.returned);
    }
    later.push({ lot, rows: story.later });
    if (later.length > LOTS_A_DAY) later.splice(0, 1).forEach((one) => stand(one.lot, one.rows));
  }
  for (const one of later) stand(one.lot, one.rows);
  for (let edge = 0; edge < graph.parents.length; edge += 1) {
    const child = graph.children[edge] ?? 0;
    const childId = ids[child] ?? '';
    const leadsOn = (starts[child + 1] ?? 0) > (starts[child] ?? 0) ? 't' : 'f';
    tables.add(
      'lot_edge',
      groupId,
      ids[graph.parents[edge] ?? 0] ?? '',
      childId,
      childId,
      't',
      leadsOn,
      at(bornMs(child)),
    );
  }
  return { ids, seq: last, balances };
}

/** Makes `years` years; the newest of them, made from the seed alone, is the same however many there are. */
export async function fillWithLots(
  where: { readonly databaseUrl: string; readonly groupId: string; readonly dir: string },
  { seed, years, say }: { seed: number; years: number; say: (line: string) => void },
): Promise<LotWorld> {
  const { groupId } = where;
  const dir = path.join(where.dir, 'copy');
  mkdirSync(dir, { mode: 0o755 });
  const client = new pg.Client(where.databaseUrl);
  await client.connect();
  try {
    // As superuser: triggers, foreign keys among them, are off.
    await client.query(`set session_replication_role = replica`);
    const graph = makeYear(seed);
    let added: Added = { ids: [], seq: 0, balances: [] };
    for (let year = years - 1; year >= 0; year -= 1) {
      const tables = openTables(dir);
      if (year === years - 1) addPlaces(tables, groupId);
      const one = { graph: year === 0 ? graph : makeYear(seed + year), chance: chanceOf(seed + 1_000 + year) };
      added = addYear({ tables, groupId, year, seq: added.seq, ...one });
      tables.close();
      await copyIn(client, dir);
      say(`year ${years - year} of ${years} is in`);
    }
    await client.query(`update group_head set last_seq = $2::int8 where group_id = $1::uuid`, [groupId, added.seq]);
    await client.query('vacuum analyze');
    const { ids, balances } = added;
    return { graph, ids, numbers: new Map(ids.map((id, lot) => [id, lot])), balances };
  } finally {
    await client.end();
    rmSync(dir, { recursive: true, force: true });
  }
}

async function copyIn(client: pg.Client, dir: string): Promise<void> {
  for (const [table, columns] of Object.entries(COLUMNS)) {
    const file = path.join(dir, table);
    writeFileSync(file, '', { flag: 'a' });
    chmodSync(file, 0o644);
    await client.query(`copy ${table} (${columns}) from '${file}'`);
    rmSync(file);
  }
}
