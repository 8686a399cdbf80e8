/** Checks and the plan as the record shows them. */
import { limitWords } from '../../../domain/process-checks/consequences.ts';
import type { PointState } from '../../../domain/process-checks/readiness.ts';
import { kindWords, measuredWords, sourceWords } from '../../../domain/process-checks/words.ts';
import type { CheckDetails } from '../../process-checks/index.ts';
import type { Ready } from '../release/ready.ts';
import { capital } from './view-words.ts';
import type { BatchRecord } from './contract.ts';

export function planOf({ plan: batchPlan, byLot }: Ready): BatchRecord['plan'] {
  if (batchPlan === null) return null;
  const { points, release, twoPeople } = batchPlan.plan;
  const ofLots = [...byLot.values()].flatMap((lot) => lot.points);
  return {
    version: batchPlan.planVersion,
    release,
    twoPeople,
    points: points.map(({ code, label, stage, kind, limit, source, per, requiredFor, critical, confirmed }) => {
      const inState = (state: PointState) =>
        ofLots.filter((point) => point.code === code && point.state === state).length;
      return {
        code,
        label,
        stage,
        limit: limitWords(kind, limit),
        source: sourceWords(source),
        basis: source.basis,
        per,
        requiredFor,
        critical,
        confirmed,
        shown: {
          passed: inState('passed'),
          failed: inState('failed'),
          missing: inState('missing'),
          deviationOpen: inState('deviation-open'),
        },
      };
    }),
  };
}

interface Known {
  readonly plan: BatchRecord['plan'];
  readonly lots: BatchRecord['lots'];
  readonly code: string;
}

export function checkOf(check: CheckDetails, { plan, lots, code }: Known): BatchRecord['checks'][number] {
  const { kind, measured, limits } = check;
  const point = plan?.points.find((one) => one.code === check.controlPoint);
  return {
    checkId: check.checkId,
    controlPoint: check.controlPoint,
    label: limits.label ?? point?.label ?? capital(kindWords(kind)),
    stage: check.stage,
    kind,
    about: aboutWords(check, lots, code),
    lotId: check.lotId,
    packingRunId: check.packingRunId,
    occurredAt: check.occurredAt,
    recordedAt: check.recordedAt,
    doneBy: check.doneByName,
    recordedBy: check.recordedByName,
    instrument: check.instrumentName,
    machine: check.machineName,
    measured: measuredWords(kind, measured, check.numbers),
    limit: limits.inWords,
    limitSource: sourceWords(limits.source),
    result: check.result,
    reasons: [...check.reasons],
    correctiveActions: check.correctiveActions.map(({ action, closes, occurredAt, recordedByName }) => ({
      action,
      closes,
      occurredAt,
      by: recordedByName,
    })),
    deviation: check.deviation,
    documentHref: check.documentHref,
    note: check.note,
    supersedesCheckId: check.supersedesCheckId,
    supersededByCheckId: check.supersededByCheckId,
    correctionReason: check.correctionReason,
    seriesHref: measured.form === 'series' ? `/v1/process-checks/${check.checkId}/series` : null,
  };
}

function aboutWords(check: CheckDetails, lots: BatchRecord['lots'], code: string): string {
  const lot = lots.find(({ lotId }) => lotId === check.lotId);
  switch (check.about.kind) {
    case 'batch':
      return `batch ${code}`;
    case 'lot':
      if (lot?.kind === 'load') return `load ${lot.loadNo ?? ''}, ${lot.lotCode}`;
      return `packs ${lot?.lotCode ?? check.lotCode ?? ''}`;
    case 'packing-run':
      return 'packing run';
    default:
      return check.about.kind.replaceAll('-', ' ');
  }
}
