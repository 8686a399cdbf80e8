/**
 * What machines leave behind, judged anew whenever a run, a clean-down or an allergen is recorded, for everything that ran after it: in the
 * same transaction, whatever the order in which facts arrive. Only findings: no hold, and nothing is added to what food may
 * contain. Refusals: none.
 */
import { carryOvers, type CarryOver, type Pass } from '../../domain/carry-over.ts';
import { utc } from '../../domain/time.ts';
import type { Tx } from '../../platform/db/db.ts';
import { clearFindings, openFindings, type FindingDraft } from '../ledger/index.ts';
import {
  findRun,
  listFullCleanDowns,
  listOpenCarryOvers,
  listPasses,
  listRunsBelow,
  type OpenCarryOver,
  type PassRow,
} from './store-machines.ts';

interface Machine {
  readonly equipmentId: string;
  readonly siteId: string;
}

interface MachinePass extends Pass {
  readonly lots: PassRow['lots'];
}

/** A food is on the machine until the run changes over to the next, or ends. */
function passesOf(rows: readonly PassRow[]): MachinePass[] {
  return rows.map((row) => {
    const next = rows
      .filter((one) => one.packingRunId === row.packingRunId && one.changedOverAt > row.changedOverAt)
      .map((one) => one.changedOverAt.getTime());
    return {
      key: `${row.packingRunId}:${String(row.lineNo).padStart(4, '0')}`,
      runId: row.packingRunId,
      beginsMs: row.changedOverAt.getTime(),
      endsMs: Math.min(row.finishedAt.getTime(), ...next),
      allergens: row.allergens,
      raw: row.raw,
      lots: row.lots,
    };
  });
}

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

const keyOf = ({ kind, subject }: Pick<OpenCarryOver, 'kind' | 'subject'>) => `${kind}|${subject}`;
const saysSame = (open: OpenCarryOver, draft: FindingDraft): boolean =>
  JSON.stringify(open.allergens) === JSON.stringify(draft.detail['allergens']);

/**
 * Judges what was on a machine at or after a time. The machine is locked, or the gate held exclusively.
 * @returns what stands against it now
 */
export async function judgeMachine(tx: Tx, machine: Machine, fromMs: number, nowMs: number): Promise<FindingDraft[]> {
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
  const open = await listOpenCarryOvers(tx, machine.siteId, lotIds);
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
  return wanted;
}

/** After a packing run was undone: nothing stands against its packs any more, and it left nothing for those after it. */
export async function judgeWithoutRun(tx: Tx, packingRunId: string, nowMs: number): Promise<void> {
  const run = await findRun(tx, packingRunId);
  if (!run) return;
  for (const kind of ['allergen-carry-over', 'raw-before-ready-to-eat']) {
    const open = await listOpenCarryOvers(tx, run.siteId, run.lotIds);
    await clearFindings(
      tx,
      kind,
      open.filter((one) => one.kind === kind).map((one) => one.subject),
    );
  }
  await judgeMachine(tx, run, run.startedAtMs, nowMs);
}

/** After a late input: what was packed of these lots may hold more than was known, and so may be what came after it. */
export async function judgeRunsBelow(tx: Tx, lotIds: readonly string[], nowMs: number): Promise<void> {
  for (const { equipmentId, siteId, startedAtMs } of await listRunsBelow(tx, lotIds)) {
    await judgeMachine(tx, { equipmentId, siteId }, startedAtMs, nowMs);
  }
}
