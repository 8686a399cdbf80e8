/**
 * "Open the case" against everything that moves food, in every commit order, on a real database: each request is held at a lock of its own
 * until the others stand where the test wants them. What is committed before the case is in its scope; what comes after is refused, or
 * recorded and listed as done against the hold.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../support/kitchen.ts';
import { faultsOf } from '../support/replay/books.ts';
import { bodyOf, everyItem } from '../support/replay/recall.ts';
import { foodFor, STEPS, type Food, type Step } from '../support/recall-steps.ts';
import { startService, type Answer, type TestService } from '../support/service.ts';
import { inOrder, permutations, sessionsOf, slippedThrough, type Sessions } from '../support/sessions.ts';
import { buildWorld, type World } from '../support/world.ts';

describe('opening a case', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let sessions: Sessions;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    sessions = await sessionsOf(service);
  });
  afterAll(async () => {
    expect(await faultsOf(service, service.groupId)).toEqual([]);
    await sessions.end();
    await service.stop();
  });

  const post = (role: string, path: string, body: object) => service.as(role).post(path, { id: randomUUID(), ...body });
  let cases = 0;
  const open = (lotId: string, more: object = {}) =>
    post('operations', '/v1/recalls', { title: `Warning ${(cases += 1)}`, starts: [{ kind: 'lot', lotId }], ...more });
  const scopeOf = async (recallId: string): Promise<string[]> =>
    (await everyItem(service.as('operations'), `/v1/recalls/${recallId}/lots`)).map((lot) => lot.lotId as string);
  const exceptionsOf = async (recallId: string): Promise<Json[]> =>
    everyItem(service.as('operations'), `/v1/recalls/${recallId}/exceptions`);
  const findings = async (lotId: string): Promise<string[]> =>
    ((await kitchen.get('quality', `/v1/findings?lotId=${lotId}&limit=500`)).items as Json[]).map((one) => one.kind);

  const food = () => foodFor(kitchen);
  const bySupplier = (of: Food) => ({
    title: `Warning ${(cases += 1)}`,
    starts: [{ kind: 'supplier-lot', supplierId: world.supplierId, supplierLotCode: of.supplierLotCode }],
  });

  async function expectHeld(opened: Answer, of: Food, made: readonly string[]): Promise<string[]> {
    const recallId = bodyOf(opened, 201).recallId as string;
    const scope = await scopeOf(recallId);
    expect(scope.sort()).toEqual([of.shin, of.load, of.packs, ...made].sort());
    expect(await slippedThrough(service)).toEqual([]);
    return scope;
  }

  async function expectStep(
    name: string,
    of: Food,
    opened: Answer,
    answer: Answer,
    before: boolean,
  ): Promise<string[]> {
    const step = STEPS[name] as Step;
    const refused = !before && step.after === 'refused';
    expect([name, answer.status, answer.body.code], answer.text).toEqual([
      name,
      ...(refused ? [409, 'on-hold'] : [201, answer.body.code]),
    ]);
    const exceptions = await exceptionsOf(opened.body.recallId);
    const lotId = before || refused ? null : step.against(of);
    expect(exceptions.filter((one) => one.lotId === lotId)).toHaveLength(lotId === null ? 0 : 1);
    expect(exceptions).toHaveLength(lotId === null ? 0 : 1);
    if (lotId !== null) expect(await findings(lotId)).toContain(step.finding ?? 'used-while-held');
    return refused ? [] : step.made(of, answer);
  }

  test.each(Object.keys(STEPS).flatMap((name) => [true, false].map((first) => ({ name, first }))))(
    '$name (before the case: $first)',
    async ({ name, first }) => {
      const of = await food();
      const both = [
        () => post('operations', '/v1/recalls', bySupplier(of)),
        () => (STEPS[name] as Step).send(kitchen, of),
      ];
      if (first) both.reverse();
      const stopper = first ? await sessions.stopEntries() : await sessions.stopHolds();
      const answers = await inOrder(sessions, stopper, both);
      if (first) answers.reverse();
      const [opened, answer] = answers as [Answer, Answer];
      const made = await expectStep(name, of, opened, answer, first);
      await expectHeld(opened, of, made);
      if (name === 'receipt') {
        const stock = await kitchen.get('operations', `/v1/stock?placeId=${world.w3ChillerId}&limit=500`);
        const part = (stock.items as Json[]).find((one) => one.lotId === of.packs);
        expect(part).toMatchObject({ quantity: 4 });
        const told = await kitchen.get('receiver', `/v1/lots/${of.packs}`);
        expect(JSON.stringify(told.holds)).toContain('recall');
      }
      // On the road at the opening, unless it had arrived by then.
      const road = (opened.body.onTheRoad as Json[]).map((one) => one.dispatchId as string).sort();
      const leaves = first && name.startsWith('departure') ? [of.dispatchId] : [];
      expect(road).toEqual([...(first && name === 'receipt' ? [] : [of.sent]), ...leaves].sort());
    },
  );

  test.each(permutations(['case', 'batch input', 'packing']).map((order) => ({ name: order.join(', '), order })))(
    '$name: what came before the case is in it, what came after is refused',
    async ({ order }) => {
      const of = await food();
      const stopper = order[0] === 'case' ? await sessions.stopHolds() : await sessions.stopEntries();
      const answers = await inOrder(
        sessions,
        stopper,
        order.map((name) => () => (name === 'case' ? open(of.shin) : (STEPS[name] as Step).send(kitchen, of))),
      );
      const caseAt = order.indexOf('case');
      const made: string[] = [];
      for (const [at, name] of order.entries()) {
        const answer = answers[at] as Answer;
        if (name !== 'case') made.push(...(await expectStep(name, of, answers[caseAt] as Answer, answer, at < caseAt)));
      }
      await expectHeld(answers[caseAt] as Answer, of, made);
    },
  );

  const countOf = (table: 'recall' | 'recall_start' | 'hold' | 'hold_reach' | 'recall_notice'): Promise<number> =>
    service.db.inGroup(service.groupId, 'read', async (tx) => {
      const rows = await tx.query<{ count: number }>(`select count(*)::int as count from ${table}`);
      return rows[0]?.count ?? 0;
    });

  test('two people who open the same case at once: one opens it, the other is told which it is', async () => {
    const of = await food();
    const before = await Promise.all([countOf('recall'), countOf('recall_start'), countOf('hold')]);
    const same = bySupplier(of);
    const answers = await inOrder(sessions, await sessions.stopHolds(), [
      () => post('operations', '/v1/recalls', same),
      () => post('quality', '/v1/recalls', { ...same, title: 'The same, by somebody else' }),
    ]);
    expect(answers.map((answer) => answer.status)).toEqual([201, 409]);
    expect(answers[1]?.body).toMatchObject({ code: 'recall-open-already', recallId: answers[0]?.body.recallId });
    await expectHeld(answers[0] as Answer, of, []);
    const after = await Promise.all([countOf('recall'), countOf('recall_start'), countOf('hold')]);
    expect(after.map((count, at) => count - (before[at] ?? 0))).toEqual([1, 1, 1]);
    // On purpose it can be opened beside the first; a drill is never in the way.
    const beside = await post('quality', '/v1/recalls', { ...same, besides: true });
    expect(beside.status, beside.text).toBe(201);
    expect((await post('quality', '/v1/recalls', { ...same, drill: true })).status).toBe(201);
  });

  test('the same request sent twice at once opens one case, and both get its answer', async () => {
    const of = await food();
    const body = { id: randomUUID(), title: 'Sent twice', starts: [{ kind: 'lot', lotId: of.shin }] };
    const send = () => service.as('operations').post('/v1/recalls', body);
    const answers = await inOrder(sessions, await sessions.stopHolds(), [send, send]);
    expect(answers.map((answer) => answer.status)).toEqual([201, 201]);
    expect(answers[1]?.body.recallId).toBe(answers[0]?.body.recallId);
  });

  test('a case that is refused freezes nothing', async () => {
    const of = await food();
    const tables = ['recall', 'recall_start', 'hold', 'hold_reach', 'recall_notice'] as const;
    const before = await Promise.all(tables.map(countOf));
    const starts = [
      { kind: 'lot', lotId: of.shin },
      { kind: 'supplier-lot', supplierId: world.supplierId, supplierLotCode: 'NEVER-CAME-9' },
    ];
    const answer = await post('operations', '/v1/recalls', { title: 'Half a case', starts });
    expect([answer.status, answer.body.code]).toEqual([422, 'starts-match-nothing']);
    expect(await Promise.all(tables.map(countOf))).toEqual(before);
    expect((await (STEPS['batch input'] as Step).send(kitchen, of)).status).toBe(201);
  });

  test('a drill freezes nothing: whatever comes after it goes on', async () => {
    const of = await food();
    const drill = await open(of.shin, { drill: true });
    expect(drill.status, drill.text).toBe(201);
    for (const name of ['departure', 'batch input', 'packing']) {
      const answer = await (STEPS[name] as Step).send(kitchen, of);
      expect([name, answer.status], answer.text).toEqual([name, 201]);
    }
    // Its scope grows all the same.
    await expectHeld(drill, of, [of.late.lotId, of.packLotId]);
  });

  test('starting points added while food is put in: the later of the two knows of the first', async () => {
    for (const first of [true, false]) {
      const of = await food();
      const other = await kitchen.shin(1_000);
      const recallId = bodyOf(await open(other), 201).recallId as string;
      const added = { starts: [{ kind: 'lot', lotId: of.shin }], note: 'The supplier called again' };
      const both = [
        () => post('operations', `/v1/recalls/${recallId}/starts`, added),
        () => (STEPS['batch input'] as Step).send(kitchen, of),
      ];
      if (first) both.reverse();
      const stopper = first ? await sessions.stopEntries() : await sessions.stopReach();
      const answers = await inOrder(sessions, stopper, both);
      if (first) answers.reverse();
      expect(answers.map((answer) => answer.status)).toEqual([201, first ? 201 : 409]);
      const scope = [other, of.shin, of.load, of.packs, ...(first ? [of.late.lotId] : [])];
      expect((await scopeOf(recallId)).sort()).toEqual(scope.sort());
      expect(await slippedThrough(service)).toEqual([]);
    }
  });
});
