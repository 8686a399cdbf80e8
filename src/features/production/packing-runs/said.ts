/**
 * What a packing run says beside its fills. Refusals: `not-found` (programme, instrument), `rule-broken`; of a request also
 * `item-unsuitable` (a programme that is out of use).
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { packsRejected, type Rejects } from '../../../domain/process-checks/programmes.ts';
import type { StandingCheck } from '../../../domain/process-checks/shapes.ts';
import type { FindingDraft } from '../../ledger/index.ts';
import { writeCheck, type DecidedCheck } from '../../process-checks/index.ts';
import type { Packing } from '../fills.ts';
import { findProgramme, type ProgrammeRow } from '../programmes/store.ts';
import { decideRunChecks } from './checks.ts';
import type { RunSoFar } from './shapes.ts';
import { insertRejects } from './store.ts';

interface SaidOfRun {
  /** as the run keeps it: the name, and which version of which programme, where one was named */
  readonly programme: string;
  readonly named: ProgrammeRow | null;
  readonly packsRejected: number;
  readonly rejects: readonly Rejects[];
  readonly checks: readonly DecidedCheck[];
}

function broken(pointer: string, detail: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}

async function programmeOf({ tx, body }: Packing, asked: boolean): Promise<Pick<SaidOfRun, 'programme' | 'named'>> {
  const { programme, programmeId } = body;
  if (programmeId === undefined) {
    if (programme === undefined) throw broken('#/programmeId', 'Say the programme, by programmeId or by its name.');
    return { programme, named: null };
  }
  if (programme !== undefined) throw broken('#/programme', 'Give programme or programmeId, not both.');
  const named = await findProgramme(tx, programmeId);
  if (!named) throw notFound('packing programme');
  if (asked && !named.active) {
    const detail = `The programme ${named.name} is not in use any more.`;
    throw new Refused('item-unsuitable', detail, { errors: [{ detail, pointer: '#/programmeId' }] });
  }
  return { programme: named.name, named };
}

/** A sample comes out of what was sealed; a test may destroy the pouch, so rejected ones count as well. */
function requireSamples({ body }: Packing, sealed: number): void {
  for (const [at, { tested, failed }] of (body.sealTests ?? []).entries()) {
    if (failed > tested)
      throw broken(`#/sealTests/${at}/failed`, `${tested} were tested, so no more than that failed.`);
    if (tested > sealed) throw broken(`#/sealTests/${at}/tested`, `The run sealed ${sealed} pouches.`);
  }
  if (body.instrumentId !== undefined && body.coreTemperatureC === undefined) {
    throw broken('#/coreTemperatureC', 'Say what the instrument measured.');
  }
}

/** Reads and decides what a run says of itself; writes nothing. */
export async function readSaid(context: Packing, run: RunSoFar): Promise<SaidOfRun> {
  const { body } = context;
  const rejected = packsRejected(body.packsRejected, body.rejects);
  const { programme, named } = await programmeOf(context, run.asked);
  requireSamples(
    context,
    body.fills.reduce((packs, fill) => packs + fill.packs, rejected),
  );
  const checks = await decideRunChecks(context, run, named);
  return { programme, named, packsRejected: rejected, rejects: body.rejects ?? [], checks };
}

/** Its checks as they will stand. */
export function standingOf({ checks }: SaidOfRun): StandingCheck[] {
  return checks.map(({ row }) => ({
    checkId: row.checkId,
    controlPoint: row.controlPoint,
    kind: row.kind,
    stage: row.stage,
    result: row.judgement.result,
    occurredAtMs: row.occurredAtMs,
    batchId: row.batchId,
    lotId: row.lotId,
    packingRunId: row.packingRunId,
    deviation: row.judgement.result === 'failed' ? 'open' : 'none',
    madeGood: false,
  }));
}

/** After the run and its lots were written. @returns what the checks showed */
export async function writeSaid(context: Packing, { rejects, checks }: SaidOfRun): Promise<FindingDraft[]> {
  if (rejects.length > 0) await insertRejects(context.tx, context.factId, rejects);
  const findings: FindingDraft[] = [];
  for (const check of checks) findings.push(...(await writeCheck(context, check)).findings);
  return findings;
}
