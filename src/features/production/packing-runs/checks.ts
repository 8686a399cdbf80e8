/**
 * Seal tests and the core temperature that a packing run says become process checks of it, in the same transaction. They stand for the
 * control points of the batch's plan of that kind, where it has any; else they are held against the site's limit and, for the core
 * temperature, the programme's, whichever is lower. Refusals: `not-found` (instrument), `rule-broken` (no limit).
 */
import { packsWait } from '../../../domain/process-checks/readiness.ts';
import type { CheckKind, Source } from '../../../domain/process-checks/shapes.ts';
import { utc } from '../../../domain/time.ts';
import { derivedId } from '../../../platform/ids.ts';
import { decideCheck, findBatchPlan, type CheckSubject, type DecidedCheck } from '../../process-checks/index.ts';
import type { Packing } from '../fills.ts';
import type { ProgrammeRow } from '../programmes/store.ts';
import type { RunSoFar } from './shapes.ts';

const nothing = {
  lotId: null,
  goodsReceiptId: null,
  dispatchId: null,
  placeId: null,
  machineId: null,
  kept: null,
} as const;

const waits = (holds: RunSoFar['holds'], lotId: string): boolean =>
  holds.some((hold) => hold.lotId === lotId && hold.kind === 'awaiting-release' && hold.liftedAt === null);

/** The run that is about to be written, with its packs. */
function aboutRun({ factId }: Packing, { batch, fills, holds }: RunSoFar, waitsItself: boolean): CheckSubject {
  return {
    ...nothing,
    about: { kind: 'packing-run', id: factId },
    batchId: batch.batchId,
    packingRunId: factId,
    lots: fills.flatMap(({ from, made }) =>
      made.map(({ lot: { lotId, code } }) => ({
        lotId,
        code,
        waits: waitsItself || waits(holds, from.lotId),
        rejected: false,
      })),
    ),
    loads: new Set(fills.map(({ from }) => from.lotId)).size,
    atOrigin: true,
    decided: false,
    batchStartedAtMs: batch.startedAt.getTime(),
  };
}

/** A point that wants each load looked at: once for every lot that the run takes from. */
function aboutLoads(context: Packing, run: RunSoFar): CheckSubject[] {
  const whole = aboutRun(context, run, false);
  const loads = new Map(run.fills.map(({ from }) => [from.lotId, from]));
  return [...loads.values()].map(({ lotId, code }) => ({
    ...whole,
    about: { kind: 'lot', id: lotId },
    lotId,
    lots: [{ lotId, code, waits: waits(run.holds, lotId), rejected: false }],
    loads: 1,
  }));
}

const sourceOf = ({ name, version, basis }: ProgrammeRow): Source => ({
  source: `Packing programme ${name}`,
  edition: `version ${version}`,
  basis,
});

export async function decideRunChecks(
  context: Packing,
  run: RunSoFar,
  programme: ProgrammeRow | null,
): Promise<DecidedCheck[]> {
  const { tx, body, factId, nowMs, actor } = context;
  const { coreTemperatureC: temperatureC, sealTests = [] } = body;
  if (temperatureC === undefined && sealTests.length === 0) return [];
  const { siteId, batchId } = run.batch;
  const plan = (await findBatchPlan(tx, [batchId])).get(batchId)?.plan;
  // Packs of a plan that wants something of each run wait for a release of their own; the others wait with their load.
  const waitsItself = plan !== undefined && packsWait(plan);
  const pointOf = (kind: CheckKind) => plan?.points.find((point) => point.stage === 'pack' && point.kind === kind);
  const common = {
    siteId,
    stage: 'pack' as const,
    // What was recorded afterwards may carry a time ahead of now; its finding is the run's.
    occurredAt: utc(Math.min(run.finishedAtMs, nowMs)),
    doneBy: body.packerId ?? actor.actorId,
  };
  const decided: DecidedCheck[] = [];
  const decide = async (
    name: string,
    kind: 'core-temperature' | 'seal-test',
    said: {
      readonly temperatureC?: number;
      readonly tested?: number;
      readonly failed?: number;
      readonly note?: string | undefined;
    },
  ): Promise<void> => {
    const point = pointOf(kind);
    const subjects = point?.per === 'load' ? aboutLoads(context, run) : [aboutRun(context, run, waitsItself)];
    const core = kind === 'core-temperature';
    const atMost =
      core && programme ? { atMost: programme.mostCoreTemperatureC, source: sourceOf(programme) } : undefined;
    for (const subject of subjects) {
      const checkId = derivedId(subject.lotId === null ? name : `${name}-${subject.lotId}`, factId);
      const check = {
        ...common,
        ...said,
        kind,
        about: subject.about,
        controlPoint: point?.code,
        machineId: core ? undefined : body.equipmentId,
        instrumentId: core ? body.instrumentId : undefined,
      };
      decided.push(await decideCheck(context, checkId, check, { subject, ...(atMost && { atMost }) }));
    }
  };
  if (temperatureC !== undefined) await decide('core-temperature', 'core-temperature', { temperatureC });
  for (const [at, test] of sealTests.entries()) await decide(`seal-test-${at + 1}`, 'seal-test', test);
  return decided;
}
