/** A workbook too small for its lines holds their sums: the postings read one by one come to the same. */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { getCutNow } from '../../../src/features/ledger/index.ts';
import { listLinesOf, listLineSums, type ReportLine } from '../../../src/features/reporting/month/index.ts';
import { createDb, type Db } from '../../../src/platform/db/db.ts';
import { createLog } from '../../../src/platform/log.ts';
import { demoTemplate } from '../../support/demo.ts';
import { startService, type TestService } from '../../support/service.ts';
import { asAdmin } from '../../support/test-server.ts';

let service: TestService;
let db: Db;
beforeAll(async () => {
  service = await startService({ template: await demoTemplate() });
  db = createDb({ url: service.databaseUrl, poolSize: 1, log: createLog('warn') });
}, 180_000);
afterAll(async () => {
  await db.end();
  await service.stop();
});

test('sums by site, item and kind are those of the lines', async () => {
  const groupId = await asAdmin(service.databaseUrl, async (owner) => {
    const { rows } = await owner.query<{ group_id: string }>(
      'select group_id from group_head order by last_seq desc limit 1',
    );
    return rows[0]?.group_id ?? '';
  });
  await db.inGroup(groupId, 'read', async (tx) => {
    const cut = await getCutNow(tx);
    const asked = { month: '2026-10', throughMonth: '2026-10', siteIds: null, cut, restated: false };
    const lines: ReportLine[] = [];
    for await (const line of listLinesOf(tx, asked)) lines.push(line);
    expect(await listLineSums(tx, asked, 1_000_000)).toBeNull();
    const sums = (await listLineSums(tx, asked, 0)) ?? [];
    const keyOf = (one: Omit<(typeof sums)[number], 'quantity'>): string =>
      [one.siteName, one.itemCode, one.line, one.reason, one.destination, one.material, one.unit].join('|');
    const wanted = new Map<string, [number, number, number]>();
    for (const line of lines) {
      const [quantity, grams, value] = wanted.get(keyOf(line)) ?? [0, 0, 0];
      wanted.set(keyOf(line), [quantity + line.quantity, grams + line.grams, value + line.valueMinor]);
    }
    expect(lines.length).toBeGreaterThan(100);
    expect(sums.map(keyOf).sort()).toEqual([...wanted.keys()].sort());
    for (const sum of sums) {
      const [quantity, grams, value] = wanted.get(keyOf(sum)) ?? [];
      expect(sum.quantity).toBe(quantity);
      // each line is rounded to the milligram and cut off at the millionth
      expect(sum.grams).toBeCloseTo(grams ?? Number.NaN, 0);
      expect(sum.valueMinor).toBeCloseTo(value ?? Number.NaN, 2);
    }
  });
}, 60_000);
