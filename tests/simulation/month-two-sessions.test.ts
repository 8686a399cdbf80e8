/**
 * A month is closed while facts about it are being recorded: in every order of commits each fact is in the cut or after it, never both and
 * never neither; and of two people who close it at once one does.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../support/kitchen.ts';
import { startService, type Answer, type TestService } from '../support/service.ts';
import { inOrder, permutations, sessionsOf, type Sessions } from '../support/sessions.ts';
import { buildWorld, type World } from '../support/world.ts';

const STEPS = ['close', 'use', 'completion'] as const;
type Step = (typeof STEPS)[number];
const MONTHS = ['2026-10', '2026-11', '2026-12', '2027-01', '2027-02', '2027-03', '2027-04'];

describe('closing while facts are recorded', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let sessions: Sessions;
  beforeAll(async () => {
    service = await startService({ nowMs: Date.parse('2026-10-10T08:00:00Z') });
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    sessions = await sessionsOf(service);
  });
  afterAll(async () => {
    await sessions.end();
    await service.stop();
  });

  const now = () => new Date(service.clock.nowMs()).toISOString();
  const accept = ['open-batches', 'negative-balances', 'uncosted-lots'].map((check) => ({ check, reason: 'Known' }));
  const close = (month: string): Promise<Answer> =>
    service.as('finance').post('/v1/month-closes', { id: randomUUID(), month, accept });

  async function numbersOf(entryId: string, batchId: string): Promise<{ seq: number; completedNo: number }> {
    return service.db.inGroup(service.groupId, 'read', async (tx) => {
      const rows = await tx.query<{ seq: number; completedNo: number }>(
        `select e.seq, b.completed_no as "completedNo" from entry e, batch b where e.entry_id = $1::uuid and b.batch_id = $2::uuid`,
        [entryId, batchId],
      );
      const [row] = rows;
      if (!row) throw new Error('it was not recorded');
      return row;
    });
  }

  test.each(permutations(STEPS).map((order, at) => ({ name: order.join(', '), order, month: MONTHS[at] ?? '' })))(
    '$name: what came before the close is in it, what came after is late',
    async ({ order, month }) => {
      service.clock.set(Date.parse(`${month}-10T08:00:00Z`));
      const shin = await kitchen.shin(12_000);
      const { batchId } = await kitchen.stew(shin, 10_000, 9_000);
      const occurredAt = now();
      // the fifth of the next month
      service.clock.set(Date.parse(`${month}-28T08:00:00Z`) + 8 * 86_400_000);
      const use = { lotId: shin, placeId: world.ckChillerId, quantity: 1_000, unit: 'g', occurredAt };
      const requests: Record<Step, () => Promise<Answer>> = {
        close: () => close(month),
        use: () => service.as('kitchen').post('/v1/uses', { id: randomUUID(), ...use }),
        completion: () =>
          service.as('kitchen').post(`/v1/batches/${batchId}/completion`, { id: randomUUID(), losses: [] }),
      };
      const answers = await inOrder(
        sessions,
        await sessions.stopEntries(),
        order.map((step) => requests[step]),
      );
      const answerTo = (step: Step): Json => answers[order.indexOf(step)]?.body;
      expect(
        answers.map((answer) => answer.status).every((status) => status < 300),
        JSON.stringify(answers),
      ).toBe(true);
      const { seq, completedNo } = await numbersOf(answerTo('use').entryId, batchId);
      const { cut } = answerTo('close');
      const before = (step: Step): boolean => order.indexOf(step) < order.indexOf('close');
      expect({ use: seq <= cut.seq, completion: completedNo <= cut.moneyNo }).toEqual({
        use: before('use'),
        completion: before('completion'),
      });
      expect(answerTo('close').checks[0]).toMatchObject({ check: 'open-batches', count: before('completion') ? 0 : 1 });
      // The other orders begin with every batch completed.
    },
  );

  test('two close the same month at once: one does, the other is told so', async () => {
    const month = MONTHS[6] ?? '';
    service.clock.set(Date.parse('2027-05-02T08:00:00Z'));
    const answers = await inOrder(sessions, await sessions.stopEntries(), [() => close(month), () => close(month)]);
    expect(answers.map((answer) => [answer.status, answer.body.code ?? null])).toEqual([
      [201, null],
      [409, 'month-closed'],
    ]);
  });
});
