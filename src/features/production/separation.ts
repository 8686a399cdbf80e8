/**
 * Raw food and allergens on one machine, by the site's policy: a run that is asked for is refused where the policy says so; what is sealed
 * already, or turns out late, is held. A hold that a late clean-down makes needless stays until a person lifts it. Refusal of a request:
 * `clean-down-needed`.
 */
import { carryOvers, type CarryOver, type Pass } from '../../domain/carry-over.ts';
import { allergenLabel, unionAllergens } from '../../domain/allergens.ts';
import { Refused } from '../../domain/errors.ts';
import { utc } from '../../domain/time.ts';
import { NeedsExclusiveGate, type Tx } from '../../platform/db/db.ts';
import { derivedId } from '../../platform/ids.ts';
import { insertFollowingHolds, type FindingDraft, type HoldDraft } from '../ledger/index.ts';
import { getSeparation, type SiteSeparation } from '../process-checks/index.ts';
import type { MadeFill } from './fills.ts';
import { listFullCleanDowns, listPasses, type PassRow } from './store-machines.ts';

/** By what is judged: the actor places the holds that follow. */
export interface Judging {
  readonly tx: Tx;
  readonly nowMs: number;
  readonly actorId: string;
}

export interface Machine {
  readonly equipmentId: string;
  readonly siteId: string;
}

export interface MachinePass extends Pass {
  readonly lots: PassRow['lots'];
}

/** A food is on the machine until the run changes over to the next, or ends. */
export function passesOf(rows: readonly PassRow[]): MachinePass[] {
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

/** A run that is yet to be written. */
interface AskedRun {
  readonly packingRunId: string;
  readonly startedAtMs: number;
  readonly finishedAtMs: number;
  readonly fills: readonly MadeFill[];
}

const rowsOf = ({ packingRunId, finishedAtMs, fills }: AskedRun): PassRow[] =>
  fills.map(({ made, sealedAtMs }, at) => ({
    packingRunId,
    lineNo: at + 1,
    finishedAt: new Date(finishedAtMs),
    changedOverAt: new Date(sealedAtMs),
    lots: made.map(({ lot }) => ({ lotId: lot.lotId, code: lot.code })),
    allergens: unionAllergens(made.map(({ lot }) => lot.allergens)),
    raw: made.some(({ lot }) => lot.handling === 'raw'),
  }));

/** What a kind of carry-over comes to at the site: 'refuse', 'hold' or 'finding'. */
const settingOf = (separation: SiteSeparation, kind: string): string =>
  kind === 'raw-before-ready-to-eat' ? separation.rawOnPacker : separation.allergenChangeover;

/**
 * Refuses a run that the site's policy does not allow on the machine as it was then, or as it is now: a request asks about now, and an earlier
 * time does not make the machine clean. What was sealed before the last run is recorded afterwards.
 */
export async function requireClean(tx: Tx, machine: Machine, run: AskedRun, nowMs: number): Promise<void> {
  await requireCleanAt(tx, machine, run);
  const laterMs = nowMs - run.startedAtMs;
  const fills = run.fills.map((fill) => ({ ...fill, sealedAtMs: fill.sealedAtMs + laterMs }));
  await requireCleanAt(tx, machine, { ...run, startedAtMs: nowMs, finishedAtMs: run.finishedAtMs + laterMs, fills });
}

async function requireCleanAt(tx: Tx, machine: Machine, run: AskedRun): Promise<void> {
  const before = (await listPasses(tx, machine.equipmentId, run.startedAtMs)).filter(
    (row) => row.packingRunId !== run.packingRunId,
  );
  const passes = passesOf([...before, ...rowsOf(run)]);
  const firstMs = Math.min(...passes.map((pass) => pass.beginsMs));
  const cleaned = await listFullCleanDowns(tx, machine.equipmentId, firstMs, run.finishedAtMs);
  const found = carryOvers(
    passes,
    cleaned.map((at) => at.getTime()),
  ).filter(({ later }) => later.runId === run.packingRunId);
  if (found.length === 0) return;
  const separation = await getSeparation(tx, machine.siteId);
  const barred = found.filter(({ kind }) => settingOf(separation, kind) === 'refuse');
  if (barred.length > 0) throw refusal(separation, barred, new Map(passes.map((pass) => [pass.key, pass])));
}

/** What was on it first is named first: it is what the machine has to be cleaned of. */
function refusal(
  separation: SiteSeparation,
  barred: readonly CarryOver[],
  passes: ReadonlyMap<string, MachinePass>,
): Refused {
  const earlier = barred.map(({ kind, earlier: pass, allergens }) => ({
    finding: kind,
    packingRunId: pass.runId,
    endedAt: utc(pass.endsMs),
    lotCodes: (passes.get(pass.key)?.lots ?? [])
      .map((lot) => lot.code)
      .sort()
      .slice(0, 20),
    allergens,
  }));
  const [first] = earlier;
  const setting = first?.finding === 'raw-before-ready-to-eat' ? 'rawOnPacker' : 'allergenChangeover';
  const after =
    setting === 'rawOnPacker' ? 'raw food' : `food with ${(first?.allergens ?? []).map(allergenLabel).join(', ')}`;
  const { source, edition, basis, standing } = separation.settings[setting];
  const detail = `Last on the machine, until ${first?.endedAt ?? ''}, was ${after} (${first?.lotCodes.join(', ') ?? ''}); no clean-down in full is recorded since.`;
  return new Refused('clean-down-needed', detail, {
    members: { earlier, policy: { source, edition, basis, standing } },
  });
}

/** Holds on the packs of what was found just now, where the site's policy holds or would have refused. */
export async function holdNewlyFound(
  { tx, nowMs, actorId }: Judging,
  machine: Machine,
  found: readonly FindingDraft[],
): Promise<void> {
  if (found.length === 0) return;
  const separation = await getSeparation(tx, machine.siteId);
  const held = found.filter(({ kind }) => settingOf(separation, kind) !== 'finding');
  // Packs of another run may have gone into something: what they went into is held with them.
  if (tx.mode !== 'exclusive' && held.some(({ detail }) => detail.factId !== tx.factId)) throw new NeedsExclusiveGate();
  await insertFollowingHolds(tx, held.map(holdOf), actorId, nowMs);
}

function holdOf({ kind, subject, lotId, detail }: FindingDraft): HoldDraft {
  const raw = kind === 'raw-before-ready-to-eat';
  const codes = (detail['earlierLotCodes'] as readonly string[]).slice(0, 5).join(', ');
  const allergens = (detail['allergens'] as readonly string[]).map(allergenLabel).join(', ');
  const what = raw ? 'raw food' : `food with ${allergens}`;
  const then = raw ? 'Decide before it is used.' : 'See what its label says before it leaves.';
  return {
    // the subject names the lot and the earlier food
    holdId: derivedId(`hold-${kind}`, subject),
    kind: raw ? 'quality' : 'declaration',
    lotId: lotId ?? '',
    siteId: null,
    accountId: null,
    propagates: true,
    note: `Sealed after ${what} (lots ${codes}) on one machine, without a clean-down in full between. ${then}`,
  };
}
