/**
 * What machines leave behind, judged anew whenever a run, a clean-down or an allergen is recorded, for everything that ran after it: in the
 * same transaction, whatever the order in which facts arrive. Findings, and holds where the site's policy says so (separation.ts); nothing
 * is added to what food may contain. Refusals: none.
 */
import { carryOvers, type CarryOver, type Pass } from '../../domain/carry-over.ts';
import { utc } from '../../domain/time.ts';
import { clearFindings, openFindings, type FindingDraft } from '../ledger/index.ts';
import { holdNewlyFound, passesOf, type Judging, type Machine, type MachinePass } from './separation.ts';
import {
  findRun,
  listFullCleanDowns,
  listToldCarryOvers,
  listPasses,
  listRunsBelow,
  type ToldCarryOver,
} from './store-machines.ts';

function draftsOf(machine: Machine, found: CarryOver, passes: ReadonlyMap<string, MachinePass>): FindingDraft[] {
  const { kind, earlier, later, allergens } = found;
  const codes = (pass: Pass) => (passes.get(pass.key)?.lots ?? []).map((lot) => lot.code).sort();
  return (passes.get(later.key)?.lots ?? []).map((lot) => ({
    kind,
    subject: `${lot.lotId}|${earlier.key}`,
    siteId: machine.siteId,
    lotId: lot.lotId,
    quantity: null,
    occurredAtMs: later.beginsMs,
    detail: {
      lotCode: lot.code,
      equipmentId: machine.equipmentId,
      earlierPackingRunId: earlier.runId,
      earlierLotCodes: codes(earlier).slice(0, 20),
      earlierEndedAt: utc(earlier.endsMs),
      allergens,
      // the run that it is about, whichever fact was recorded last: one finding, with one id
      factId: later.runId,
    },
  }));
}

const keyOf = ({ kind, subject }: Pick<ToldCarryOver, 'kind' | 'subject'>) => `${kind}|${subject}`;
const saysSame = (open: ToldCarryOver, draft: FindingDraft): boolean =>
  JSON.stringify(open.allergens) === JSON.stringify(draft.detail['allergens']);

/**
 * Judges what was on a machine at or after a time. The machine is locked, or the gate held exclusively. Needs the exclusive gate when
 * packs of an earlier fact come under a hold: they may have gone into something.
 * @returns what stands against it now
 */
export async function judgeMachine(judging: Judging, machine: Machine, fromMs: number): Promise<FindingDraft[]> {
  const { tx, nowMs } = judging;
  const passes = passesOf(await listPasses(tx, machine.equipmentId, fromMs));
  const after = passes.filter((pass) => pass.endsMs >= fromMs);
  if (after.length === 0) return [];
  const firstMs = Math.min(...passes.map((pass) => pass.beginsMs));
  const lastMs = Math.max(...after.map((pass) => pass.endsMs));
  const cleaned = await listFullCleanDowns(tx, machine.equipmentId, firstMs, lastMs);
  const byKey = new Map(passes.map((pass) => [pass.key, pass]));
  const wanted = carryOvers(
    passes,
    cleaned.map((at) => at.getTime()),
  )
    .filter(({ later }) => later.endsMs >= fromMs)
    .flatMap((found) => draftsOf(machine, found, byKey));
  const lotIds = after.flatMap((pass) => pass.lots.map((lot) => lot.lotId));
  const told = await listToldCarryOvers(tx, machine.siteId, lotIds);
  const open = told.filter((one) => one.status === 'open');
  const drafts = new Map(wanted.map((draft) => [keyOf(draft), draft]));
  const gone = open.filter((one) => {
    const draft = drafts.get(keyOf(one));
    return !draft || !saysSame(one, draft);
  });
  for (const kind of new Set(gone.map((one) => one.kind))) {
    const subjects = gone.filter((one) => one.kind === kind).map((one) => one.subject);
    await clearFindings(tx, kind, subjects);
  }
  const kept = new Set(open.filter((one) => !gone.includes(one)).map(keyOf));
  await openFindings(
    tx,
    wanted.filter((draft) => !kept.has(keyOf(draft))),
    nowMs,
  );
  const before = new Set(told.map(keyOf));
  await holdNewlyFound(
    judging,
    machine,
    wanted.filter((draft) => !before.has(keyOf(draft))),
  );
  return wanted;
}

/** After a packing run was undone: nothing stands against its packs any more, and it left nothing for those after it. */
export async function judgeWithoutRun(judging: Judging, packingRunId: string): Promise<void> {
  const { tx } = judging;
  const run = await findRun(tx, packingRunId);
  if (!run) return;
  for (const kind of ['allergen-carry-over', 'raw-before-ready-to-eat']) {
    const told = await listToldCarryOvers(tx, run.siteId, run.lotIds);
    await clearFindings(
      tx,
      kind,
      told.filter((one) => one.kind === kind).map((one) => one.subject),
    );
  }
  await judgeMachine(judging, run, run.startedAtMs);
}

/** After a late input: what was packed of these lots may hold more than was known, and so may be what came after it. */
export async function judgeRunsBelow(judging: Judging, lotIds: readonly string[]): Promise<void> {
  for (const { equipmentId, siteId, startedAtMs } of await listRunsBelow(judging.tx, lotIds)) {
    await judgeMachine(judging, { equipmentId, siteId }, startedAtMs);
  }
}
