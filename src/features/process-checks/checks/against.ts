/** What a check is held against: a control point of the batch's plan, or the limit of its site. Refusals: `rule-broken`. */
import { Refused } from '../../../domain/errors.ts';
import { againstPoint, againstSite, type HeldAgainst } from '../../../domain/process-checks/consequences.ts';
import { defaultLimit } from '../../../domain/process-checks/defaults.ts';
import { isLooser } from '../../../domain/process-checks/plan-cautions.ts';
import { limitAtSite } from '../../../domain/process-checks/plans.ts';
import { isBeforeBatch } from '../../../domain/process-checks/readiness.ts';
import { CHECK_KINDS, type ControlPoint, type Stage } from '../../../domain/process-checks/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findBatchPlan, findSiteLimit, getLimitsAt } from '../plans/at-site.ts';
import { probeStanding } from '../probes/standing.ts';
import type { NewCheck } from './store.ts';
import type { CheckBody, CheckSubject } from './shapes.ts';

const LOOSER =
  "The limit asks less than the default of the site's jurisdiction: law and the food-safety plan come first.";

interface Against {
  readonly against: HeldAgainst;
  readonly remarks: readonly string[];
}

function broken(detail: string, pointer: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}

/** @throws Refused rule-broken when there is no such point, or no limit; says which there are */
export async function holdAgainst(tx: Tx, body: CheckBody, subject: CheckSubject): Promise<Against> {
  const { stage, kind, controlPoint, siteId } = body;
  const { batchId } = subject;
  const plan = batchId === null ? undefined : (await findBatchPlan(tx, [batchId])).get(batchId)?.plan;
  if (controlPoint !== undefined) return againstPlan(body, controlPoint, plan, subject);
  const found = await findSiteLimit(tx, siteId, keptStage(body, subject), kind);
  if (!found) throw broken(await whichLimits(tx, body), '#/kind');
  const same = plan?.points.filter((point) => point.stage === stage && point.kind === kind) ?? [];
  const { jurisdiction } = await getLimitsAt(tx, siteId);
  const usual = defaultLimit(jurisdiction, keptStage(body, subject), kind);
  const remarks = usual && isLooser(found.limit, usual.limit) ? [LOOSER] : [];
  if (same.length > 0) {
    remarks.push(
      `It was held against the site's limit. The plan of the batch has ${namesOf(same)} for this: without naming the control point the check counts for nothing there.`,
    );
  }
  return { against: againstSite(found), remarks };
}

/** Stages at which a temperature is one of food that is kept, and the limits are those of chilled food. */
const KEPT_AT: readonly Stage[] = ['goods-in', 'storage', 'load-out', 'receipt'];

/** Frozen food and freezers are held against the limit of the freezer: eight degrees would pass every one that has failed. */
function keptStage({ stage, kind }: CheckBody, { kept }: CheckSubject): Stage {
  const ofTemperature = kind === 'temperature' || kind === 'core-temperature';
  if (!ofTemperature || !KEPT_AT.includes(stage)) return stage;
  if (kept === 'ambient') {
    throw broken(
      'It is kept at the temperature of the room, and the limits at this stage are those of chilled food.',
      '#/about',
    );
  }
  return kept === 'frozen' ? 'freeze' : stage;
}

const namesOf = (points: readonly { readonly code: string }[]): string => points.map(({ code }) => code).join(', ');

function againstPlan(
  { stage, kind }: CheckBody,
  controlPoint: string,
  plan: { readonly points: readonly ControlPoint[] } | undefined,
  subject: CheckSubject,
): Against {
  const at = '#/controlPoint';
  if (subject.batchId === null)
    throw broken(
      'Only a check of a batch, its loads or its packs has a control point, and only the site that made it checks there: leave it out.',
      at,
    );
  if (!plan) throw broken('The batch was opened without a process plan, so it has no control points.', at);
  const point = plan.points.find(({ code }) => code === controlPoint);
  if (!point) throw broken(`The plan of the batch has no point ${controlPoint}; it has ${namesOf(plan.points)}.`, at);
  if (point.stage !== stage || point.kind !== kind) {
    const detail = `${point.code} is a check of kind ${point.kind} at the stage ${point.stage}, not of kind ${kind} at the stage ${stage}.`;
    throw broken(detail, point.kind === kind ? '#/stage' : '#/kind');
  }
  const remarks: string[] = point.looser ? [LOOSER] : [];
  if (point.per === 'load' && subject.lotId === null && subject.loads > 1) {
    remarks.push(`The plan wants ${point.code} for each load, and the batch has ${subject.loads}: name the load.`);
  }
  if (point.per === 'packing-run' && subject.packingRunId === null) {
    remarks.push(`The plan wants ${point.code} for each packing run: name the run.`);
  }
  if (point.source.basis === 'from-memory' && !point.confirmed) {
    remarks.push(
      `The limit is from memory (${point.source.source}) and nobody has confirmed it: it releases nothing by itself.`,
    );
  }
  return { against: againstPoint(point), remarks };
}

async function whichLimits(tx: Tx, { siteId, stage, kind }: CheckBody): Promise<string> {
  const { jurisdiction, limits } = await getLimitsAt(tx, siteId);
  const there = CHECK_KINDS.filter((one) => limitAtSite(jurisdiction, limits, stage, one) !== null);
  const others = there.length > 0 ? `At this stage there are limits for ${there.join(', ')}.` : '';
  return `There is no limit for ${kind} at the stage ${stage}: neither the site nor its jurisdiction has one, and no control point was named. ${others}`.trim();
}

/** What whoever reads the check should know, of its limit and of what it was measured with. */
export async function remarksOn(tx: Tx, row: NewCheck, { batchStartedAtMs }: CheckSubject): Promise<string[]> {
  const remarks: string[] = [];
  const { limits, instrumentId, occurredAtMs, controlPoint, measured } = row;
  if (controlPoint !== null && batchStartedAtMs !== null && isBeforeBatch(occurredAtMs, batchStartedAtMs)) {
    remarks.push('It is dated before the batch began: it releases nothing by itself. Correct it if the time is wrong.');
  } else if (controlPoint !== null && batchStartedAtMs !== null && measured.form === 'series') {
    // occurredAt is the end of a series.
    if (isBeforeBatch(occurredAtMs - measured.minutes * 60_000, batchStartedAtMs)) {
      remarks.push(
        'Its series begins before the batch began: see that it is of this food, and that occurredAt is its end.',
      );
    }
  }
  if (limits.assumption !== null) remarks.push(limits.assumption);
  if (limits.from === 'site' && limits.source.basis === 'from-memory') {
    remarks.push(`The limit is from memory: ${limits.source.source}. A competent person has to confirm it.`);
  }
  if (instrumentId !== null) {
    const { state } = await probeStanding(tx, instrumentId, occurredAtMs);
    const said = {
      good: null,
      failed: 'The instrument measured wrongly at its last calibration: repeat the check with another one.',
      overdue: 'The calibration of the instrument is overdue.',
      never: 'No calibration of the instrument is recorded.',
    }[state];
    if (said !== null) remarks.push(said);
  }
  return remarks;
}
