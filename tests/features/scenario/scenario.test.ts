/** A small scenario over HTTP: nothing refused, nothing lost, told again it changes nothing. */
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { scenarioActor } from '../../../scripts/scenario/actor.ts';
import { connect, type Tally } from '../../../scripts/scenario/api.ts';
import { figuresOf, openScenarioGroup } from '../../../scripts/scenario/database.ts';
import { planOf } from '../../../scripts/scenario/plan.ts';
import { runScenario } from '../../../scripts/scenario/run.ts';
import { startService, type TestService } from '../../support/service.ts';

const SIZE = { sites: 3, days: 3, seed: 11 };
/** late on the last day, so that it is told to its end */
const EVENING_MS = Date.parse('2026-11-25T22:30:45Z');
const TABLES = [
  'entry',
  'posting',
  'balance',
  'lot',
  'scan',
  'fact',
  'finding',
  'dispatch',
  'outbox',
  'catalogue_version',
];

describe('scenario', () => {
  let service: TestService;
  let client: pg.Client;
  let groupId: string;
  let first: Tally;

  async function tell(): Promise<Tally> {
    const opened = await openScenarioGroup(service.db, SIZE, service.clock.nowMs());
    groupId = opened.groupId;
    const token = service.tokens.sign(scenarioActor(groupId, SIZE.seed), service.clock.nowMs());
    const api = connect(service.url, token);
    await runScenario(api, planOf(SIZE, opened.endMs));
    return api.tally;
  }
  /** Number of rows and a hash over all of them, per table. */
  async function state(): Promise<Record<string, string>> {
    const found: Record<string, string> = {};
    for (const table of TABLES) {
      const sql = `select count(*) || ' ' || md5(string_agg(t::text, ',' order by t::text)) as all from ${table} t where group_id = $1`;
      const { rows } = await client.query<{ all: string }>(sql, [groupId]);
      found[table] = rows[0]?.all ?? 'none';
    }
    return found;
  }

  beforeAll(async () => {
    service = await startService({ nowMs: EVENING_MS });
    client = new pg.Client(service.databaseUrl);
    await client.connect();
    first = await tell();
  });
  afterAll(async () => {
    await client.end();
    await service.stop();
  });

  test('nothing is refused, and there is work of every kind', async () => {
    expect(first.refused).toEqual([]);
    expect(first.replays).toBe(0);
    const kinds = await client.query<{ kind: string }>('select distinct kind from entry where group_id = $1', [
      groupId,
    ]);
    expect(kinds.rows.map((row) => row.kind).sort()).toEqual([
      'batch-input',
      'batch-output',
      'discard',
      'dispatch',
      'goods-receipt',
      'move',
      'packing',
      'receipt',
      'stock-count',
      'use',
    ]);
    // one kitchen, three dishes a day, three days
    const figures = await figuresOf(service.db, groupId);
    const batches = await client.query('select from batch where group_id = $1', [groupId]);
    expect(batches.rowCount).toBe(9);
    expect(figures.scans).toBe(first.scans);
    expect(figures.packs).toBeGreaterThan(0);
  });

  test('every lot is conserved: its balances come to nothing, and each is what its postings come to', async () => {
    const sums = await client.query(
      `select lot_id from balance where group_id = $1 group by lot_id having sum(quantity) <> 0`,
      [groupId],
    );
    expect(sums.rows).toEqual([]);
    const differing = await client.query(
      `select b.lot_id from balance b
        where b.group_id = $1 and b.quantity <> (
          select coalesce(sum(case when p.to_account_id = b.account_id then p.quantity else -p.quantity end), 0) from posting p
           where p.group_id = b.group_id and p.lot_id = b.lot_id and b.account_id in (p.from_account_id, p.to_account_id))`,
      [groupId],
    );
    expect(differing.rows).toEqual([]);
  });

  test('packs: what was sent is served, thrown away or still on the road', async () => {
    const { rows } = await client.query<{ kind: string; packs: number }>(
      `select a.kind, sum(b.quantity)::int as packs from balance b
         join account a on a.group_id = b.group_id and a.account_id = b.account_id
         join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id and l.serialised
        where b.group_id = $1 group by a.kind`,
      [groupId],
    );
    const packs = Object.fromEntries(rows.map((row) => [row.kind, row.packs]));
    const sent = await client.query<{ packs: number }>(
      'select sum(quantity)::int as packs from dispatch_line where group_id = $1',
      [groupId],
    );
    expect((packs.served ?? 0) + (packs.waste ?? 0) + (packs.transit ?? 0)).toBe(sent.rows[0]?.packs);
    expect(packs['place-shortfall'] ?? 0).toBe(0);
    expect(packs['transit-shortfall'] ?? 0).toBe(0);
  });

  test('told again a day later it is all first answers and changes nothing', async () => {
    const before = await state();
    service.clock.set(EVENING_MS + 24 * 3600_000);
    const again = await tell();
    expect(again.refused).toEqual([]);
    expect(await state()).toEqual(before);
    // every call but those of scans is a fact of its own
    expect(again.replays).toBe(again.calls - again.scanCalls + again.scans);
    expect(again.calls).toBe(first.calls);
  });

  test('another size under the same seed is refused', async () => {
    await expect(openScenarioGroup(service.db, { ...SIZE, days: 4 }, EVENING_MS)).rejects.toThrow(/another --seed/);
  });
});
