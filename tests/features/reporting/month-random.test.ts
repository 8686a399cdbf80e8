/**
 * The month over random histories: what it says is added up again here, posting by posting, from the ledger as its owner sees it; and the
 * ledger lines behind its numbers sum to them. Stretches that were summed, cuts and closes change nothing of that.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { digestTo } from '../../../src/features/reporting/month/index.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { asAdmin } from '../../support/test-server.ts';
import { buildWorld, type World } from '../../support/world.ts';

const PATH = '/v1/reports/waste-and-yield';
const FACTS = 70;
/** a story with returns, counts that find more and less, and reversals in it */
const SEED = 11;

let service: TestService;
let world: World;
let kitchen: Kitchen;

/** Repeatable: a linear congruential generator (Numerical Recipes' constants; from memory, any would do). */
function chanceOf(seed: number): () => number {
  let state = seed;
  return () => (state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0) / 2 ** 32;
}
const chance = chanceOf(SEED);
const pick = <T>(list: readonly T[]): T => list[Math.floor(chance() * list.length)] as T;

/** Three months of a kitchen and a ward, in the order in which it was recorded; some of it happened weeks before. */
async function tellHistory(): Promise<void> {
  const entries: string[] = [];
  const lots: string[] = [];
  let packs: string[] = [];
  const post = (path: string, body: object) => service.as('operations').post(path, { id: randomUUID(), ...body });
  for (let no = 0; no < FACTS; no += 1) {
    service.clock.set(Date.parse('2026-09-25T08:00:00Z') + no * 22 * 3_600_000 + Math.floor(chance() * 3_600_000));
    const nowMs = service.clock.nowMs();
    const occurredAt = new Date(nowMs - Math.floor(chance() ** 3 * 40 * 86_400_000)).toISOString();
    const quantity = 1 + Math.floor(chance() * 9);
    const kind =
      no % 10 === 0 ? 'receive' : pick(['use', 'discard', 'return', 'count', 'send', 'undo', 'use', 'back'] as const);
    if (kind === 'receive') {
      const shin = await kitchen.shin(9_000 + quantity, { priceMinor: 4_000 + quantity * 7 });
      const made = await kitchen.stew(shin, 8_000, 6_500 + quantity);
      packs = [
        await kitchen.pack(made.batchId, made.lotId, 3_001 + quantity, 12, { massG: 3_001 + quantity }),
        ...packs,
      ];
      await kitchen.release(made.batchId);
      lots.push(shin, made.lotId);
      continue;
    }
    const isPack = chance() < 0.6;
    const lotId = isPack ? pick(packs) : pick(lots);
    const unit = isPack ? 'piece' : 'g';
    const placeId = isPack && chance() < 0.5 ? world.w3ChillerId : world.ckChillerId;
    const of = { lotId, placeId, quantity: isPack ? quantity : quantity * 37, unit, occurredAt };
    let answer;
    if (kind === 'use') {
      answer = await post('/v1/uses', {
        ...of,
        purpose: pick(['service', 'staff-meal', 'tasting', 'donation', 'laboratory']),
      });
    } else if (kind === 'discard') {
      const [reason, destination] = [
        pick(['trim', 'past-use-by', 'damaged']),
        pick(['composting', 'sewer', 'landfill']),
      ];
      answer = await post('/v1/discards', { ...of, reason, destination });
    } else if (kind === 'return') {
      answer = await post('/v1/returns', { ...of, direction: 'from-service', reason: 'Not touched' });
    } else if (kind === 'back') {
      answer = await post('/v1/returns', { ...of, direction: 'to-supplier', reason: 'Torn' });
    } else if (kind === 'count') {
      answer = await post('/v1/stock-counts', { placeId, occurredAt, lines: [{ lotId, quantity: of.quantity, unit }] });
    } else if (kind === 'send') {
      const line = { lotId: pick(packs), placeId: world.ckChillerId, quantity: 2, unit: 'piece' };
      const sent = await post('/v1/dispatches', { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] });
      const path = `/v1/dispatches/${sent.body?.dispatchId}`;
      const gone = await post(`${path}/recorded-departure`, { departedAt: new Date(nowMs).toISOString() });
      if (gone.status !== 201 || chance() < 0.3) continue;
      const lines = [
        { lotId: line.lotId, quantity: 1, unit: 'piece', condition: 'accepted', placeId: world.w3ChillerId },
      ];
      await post(`${path}/receipts`, { occurredAt: new Date(nowMs).toISOString(), closes: true, lines });
    } else if (entries.length > 0) {
      await post('/v1/reversals', { entryId: pick(entries), reason: 'Slip of the hand' });
    }
    if (answer?.status === 201 && typeof answer.body.entryId === 'string') entries.push(answer.body.entryId as string);
  }
}

interface Row {
  readonly seq: number;
  readonly month: string;
  readonly item: string;
  readonly kind: string;
  readonly undoes: boolean;
  readonly reason: string | null;
  readonly from: string;
  readonly fromSite: string;
  readonly to: string;
  readonly toSite: string;
  readonly quantity: number;
}
let rows: readonly Row[];

async function readRows(): Promise<Row[]> {
  return asAdmin(service.databaseUrl, async (owner) => {
    const { rows: found } = await owner.query<Row>(
      `select p.seq::int, to_char(p.occurred_on, 'YYYY-MM') as month, l.item_id as item, coalesce(o.kind, e.kind) as kind, o.seq is not null as undoes,
              p.reason, f.kind as "from", f.site_id as "fromSite", t.kind as "to", t.site_id as "toSite", p.quantity::int
         from posting p join entry e on e.seq = p.seq and e.group_id = p.group_id
         left join entry o on o.entry_id = e.reverses_entry_id
         join lot l on l.lot_id = p.lot_id
         join account f on f.account_id = p.from_account_id
         join account t on t.account_id = p.to_account_id
        where p.group_id = $1 order by p.seq, p.line_no`,
      [service.groupId],
    );
    return found;
  });
}

type Books = Record<string, Record<string, number>>;
type Closed = readonly (readonly [month: string, cutSeq: number])[];
const after = (month: string): string =>
  new Date(Date.UTC(Number(month.slice(0, 4)), Number(month.slice(5)), 1)).toISOString().slice(0, 7);

/** The rule for the month of the books, as a clerk applies it: put it in its month, and while that is closed without it, in the next. */
function booked(row: Row, closed: Closed): string {
  let month = row.month;
  const first = closed[0];
  if (first && month < first[0] && row.seq > first[1]) month = first[0];
  for (
    let cut = closed.find(([one]) => one === month);
    cut && row.seq > cut[1];
    cut = closed.find(([one]) => one === month)
  )
    month = after(month);
  return month;
}

const USES: Record<string, string> = {
  'staff-meal': 'staffMeals',
  tasting: 'tasted',
  donation: 'donated',
  laboratory: 'sampled',
};

/** The identity from scratch: all of history forward, each posting on one line. */
function clerk(month: string, siteId: string | null, cutSeq: number, closed: Closed = []): Books {
  const books: Books = {};
  const isIn = (kind: string, site: string) =>
    siteId === null ? /^(place|transit)/.test(kind) : /^place/.test(kind) && site === siteId;
  for (const row of rows) {
    if (row.seq > cutSeq) continue;
    const when = booked(row, closed);
    if (when > month) continue;
    const [came, went] = [isIn(row.to, row.toSite), isIn(row.from, row.fromSite)];
    if (came === went) continue;
    const lines = (books[row.item] ??= {});
    const add = (line: string, quantity: number) => (lines[line] = (lines[line] ?? 0) + quantity);
    const change = came ? row.quantity : -row.quantity;
    add('closing', change);
    if (when < month) {
      add('opening', change);
      continue;
    }
    // a reversal is its original, less
    const comes = row.undoes ? !came : came;
    const much = row.undoes ? -row.quantity : row.quantity;
    const other = (comes === came ? (came ? row.from : row.to) : came ? row.from : row.to).replace('-shortfall', '');
    if (other === 'supplier') add(comes ? 'received' : 'returnedToSupplier', much);
    else if (other === 'produced') add('produced', change);
    else if (other === 'variance') add('adjusted', change);
    else if (other === 'consumed') add('consumed', -change);
    else if (other === 'waste') add('wasted', -change);
    else if (other === 'served' && row.kind === 'stock-count') add('servedDerived', -change);
    else if (other === 'served' && comes) add('returnedIn', much);
    else if (other === 'served') add(USES[row.reason ?? ''] ?? 'served', much);
    else add(comes ? 'transferIn' : 'transferOut', much);
  }
  return cleaned(books);
}

/** Without noughts, and without rows of nothing but noughts. */
function cleaned(books: Books): Books {
  const rowsOf = Object.entries(books).map(
    ([item, lines]) => [item, Object.fromEntries(Object.entries(lines).filter(([, value]) => value !== 0))] as const,
  );
  return Object.fromEntries(rowsOf.filter(([, lines]) => Object.keys(lines).length > 0));
}

const report = async (query: string): Promise<Json> => {
  const answer = await service.as('finance').get(`${PATH}?${query}`);
  expect(answer.status, answer.text.slice(0, 500)).toBe(200);
  return answer.body;
};
const unitsOf = (body: Json): Books =>
  cleaned(Object.fromEntries(body.items.map((item: Json) => [item.itemId, item.inUnits])));

const INS = ['opening', 'received', 'produced', 'returnedIn', 'transferIn', 'adjusted', 'revalued'];
/** opening + in = out + closing, of any row in any measure */
function expectBalanced(row: Record<string, number>): void {
  const sum = (ins: boolean) =>
    Object.entries(row).reduce((total, [line, value]) => (INS.includes(line) === ins ? total + value : total), 0);
  expect(sum(true)).toBe(sum(false));
}

const MONTHS = ['2026-09', '2026-10', '2026-11'];

beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-09-25T08:00:00Z') });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  await tellHistory();
  rows = await readRows();
}, 120_000);
afterAll(() => service.stop());

test('every row of every month adds up in units, grams and money, and is what a clerk finds', async () => {
  const head = rows.at(-1)?.seq ?? 0;
  for (const month of MONTHS) {
    for (const siteId of [null, world.ckId, world.w3Id]) {
      const body = await report(`month=${month}${siteId === null ? '' : `&site=${siteId}`}`);
      expect(unitsOf(body), `${month} ${siteId}`).toEqual(clerk(month, siteId, head));
      for (const item of [...body.items, body.totals, ...body.bySite, ...body.categories])
        for (const row of [item.inUnits, item.inGrams, item.inMoney]) if (row) expectBalanced(row);
      const { workInProcessOpening, consumed, added, produced, abnormalLoss, workInProcessClosing } = body.making;
      expect(workInProcessOpening + consumed + added).toBe(produced + abnormalLoss + workInProcessClosing);
      for (const item of body.items) {
        const waste = body.waste.filter((one: Json) => one.itemId === item.itemId);
        for (const [name, row] of [
          ['quantity', item.inUnits],
          ['grams', item.inGrams],
          ['valueMinor', item.inMoney],
        ] as const)
          expect(waste.reduce((sum: number, one: Json) => sum + one[name], 0)).toBe(row.wasted);
      }
    }
  }
});

test('as recorded at a moment it is what a clerk would have found then', async () => {
  for (const share of [0.3, 0.6, 0.9]) {
    const seq = Math.floor((rows.at(-1)?.seq ?? 0) * share);
    const body = await service.db.inGroup(service.groupId, 'read', async (tx) => {
      const [row] = await tx.query<{ at: Date }>(`select recorded_at as at from entry where seq = $1::int8`, [seq]);
      return row?.at;
    });
    const last = await asAdmin(service.databaseUrl, async (owner) => {
      const { rows: found } = await owner.query<{ seq: number }>(
        `select max(seq)::int as seq from entry where group_id = $1 and recorded_at <= $2`,
        [service.groupId, body],
      );
      return found[0]?.seq ?? 0;
    });
    const month = body?.toISOString().slice(0, 7) ?? '';
    const told = await report(`month=${month}&recordedAt=${body?.toISOString()}`);
    expect(told.cut.seq).toBe(last);
    expect(unitsOf(told)).toEqual(clerk(month, null, last));
  }
});

test('the lines behind a number sum to it, to the last unit', async () => {
  const body = await report('month=2026-10');
  const links: [string, number, number, number][] = [];
  for (const item of body.items)
    for (const line of Object.keys(item.inUnits))
      if (item.inUnits[line] !== 0)
        links.push([`${item.linesHref}&line=${line}`, item.inUnits[line], item.inGrams[line], item.inMoney[line]]);
  for (const one of body.waste) links.push([one.linesHref, one.quantity, one.grams, one.valueMinor]);
  const few = links.filter((_, at) => at % 2 === 0 || at > links.length - 4);
  expect(few.length).toBeGreaterThan(10);
  for (const [href, quantity, grams, minor] of few) {
    const lines: Json[] = [];
    let sum: Json = null;
    let next: string | null = `${href}&limit=7`;
    while (next !== null) {
      const page: Json = (await service.as('finance').get(next)).body;
      lines.push(...page.items);
      sum = page.sum;
      next = page.nextCursor === null ? null : `${href}&limit=7&cursor=${page.nextCursor}`;
    }
    const added = (name: string) => lines.reduce((total, one) => total + one[name], 0);
    expect([sum.quantity, sum.grams, sum.valueMinor], href).toEqual([quantity, grams, minor]);
    expect(added('quantity'), href).toBe(quantity);
    // printed figures move by less than one; lines are cut off at the milligram and the millionth
    expect(Math.abs(added('grams') - grams), href).toBeLessThan(1);
    expect(Math.abs(added('valueMinor') - minor), href).toBeLessThan(1);
    expect(added('grams')).toBeCloseTo(Number(sum.exactGrams.numerator) / Number(sum.exactGrams.denominator), 1);
  }
});

test('summed in stretches that end anywhere, it stays the same to the last character', async () => {
  const queries = ['month=2026-10', `month=2026-11&site=${world.w3Id}`, 'month=2026-09&throughMonth=2026-11'];
  const before = await Promise.all(queries.map(report));
  const head = rows.at(-1)?.seq ?? 0;
  const moment = await report(`month=2026-10&recordedAt=${before[0].cut.recordedAt}`);
  for (const share of [0.2, 0.35, 0.7]) {
    await service.db.inGroup(service.groupId, 'write', (tx) => digestTo(tx, Math.floor(head * share)));
    expect(await Promise.all(queries.map(report))).toEqual(before);
  }
  expect(await report(`month=2026-10&recordedAt=${before[0].cut.recordedAt}`)).toEqual(moment);
});
