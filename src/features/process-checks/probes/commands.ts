/**
 * Calibrations. Nothing is held because a probe failed: the list of checks in doubt is for people to go through. Refusals: `not-found`,
 * `time-in-future`, `rule-broken`, `already-corrected`.
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { judgeCalibration, nextDueOn } from '../../../domain/process-checks/calibration.ts';
import { celsiusOf } from '../../../domain/process-checks/fahrenheit.ts';
import { standingOf } from '../../../domain/process-checks/probes.ts';
import { requireDays } from '../../../domain/query-days.ts';
import { fromInstant, isCalendarDate, localDate, utc } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { outbox } from '../../../platform/jobs.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { findEquipment, findSites } from '../../catalogue/index.ts';
import { clearFindings, openFindings, requirePast } from '../../ledger/index.ts';
import type * as contract from './contract.ts';
import type { createCalibrationCorrection } from './contract-corrections.ts';
import * as queries from './queries.ts';
import * as store from './store.ts';

const broken = (detail: string, pointer: string) =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

const THERMOMETERS = ['probe', 'oven', 'kettle', 'blast-chiller', 'other'];

/** One temperature in one of two units, as the names of the fields say. */
function degreesC(c: number | undefined, f: number | undefined, name: string): number | null {
  if (c !== undefined && f !== undefined) throw broken('Give it in °C or in °F, not both.', `#/${name}C`);
  return c ?? (f === undefined ? null : celsiusOf(f));
}

function answerOf(row: store.CalibrationRow) {
  const { cautions, ...basis } = row.basis;
  return {
    ...row,
    occurredAt: row.occurredAt.toISOString(),
    recordedAt: row.recordedAt.toISOString(),
    errorC: errorOf(row),
    basis,
    cautions: [...cautions],
  };
}

const errorOf = ({ measuredC, referenceC }: store.CalibrationRow): number =>
  Math.round((measuredC - referenceC) * 100) / 100;

const doubtOf = (doubt: queries.Doubt | null) =>
  doubt && {
    since: doubt.since?.toISOString() ?? null,
    until: doubt.until?.toISOString() ?? null,
    checks: doubt.checks,
  };

type Body = Context<typeof contract.createCalibration>['body'];
type Recording = Pick<Context, 'tx' | 'scope' | 'nowMs' | 'actor'>;
interface Asked {
  readonly calibrationId: string;
  readonly equipmentId: string;
  readonly body: Body;
  readonly corrects: { readonly row: store.CalibrationRow; readonly reason: string } | null;
}

async function record({ tx, scope, nowMs, actor }: Recording, asked: Asked): Promise<Reply> {
  const { calibrationId, body, corrects } = asked;
  const probe = (await findEquipment(tx, [asked.equipmentId])).get(asked.equipmentId);
  // Asked in any case: what is not found may not be told from what is elsewhere by how much was looked up.
  const site = (await findSites(tx, probe ? [probe.siteId] : [])).get(probe?.siteId ?? '');
  if (!probe || !site || !scope.includes(site.siteId)) throw notFound('equipment');
  const occurredAtMs = fromInstant(body.occurredAt);
  requirePast(occurredAtMs, nowMs);
  if (!THERMOMETERS.includes(probe.kind)) throw broken(`A ${probe.kind} is no thermometer.`, '#/equipmentId');
  const measuredC = degreesC(body.measuredC, body.measuredF, 'measured');
  if (measuredC === null) throw broken('Say what the probe read.', '#/measuredC');
  if (body.nextDueOn !== undefined && !isCalendarDate(body.nextDueOn)) throw broken('No such day.', '#/nextDueOn');
  const judged = judgeCalibration({
    method: body.method,
    measuredC,
    referenceC: degreesC(body.referenceC, body.referenceF, 'reference'),
    altitudeM: body.altitudeM ?? null,
    airPressureHpa: body.airPressureHpa ?? null,
    toleranceC: body.toleranceC ?? null,
  });
  const occurredOn = localDate(occurredAtMs, site.timeZone);
  const due = nextDueOn({ method: body.method, result: judged.result }, occurredOn, body.nextDueOn ?? null);
  const row: store.CalibrationRow = {
    calibrationId,
    equipmentId: probe.equipmentId,
    siteId: site.siteId,
    occurredAt: new Date(occurredAtMs),
    recordedAt: new Date(nowMs),
    recordedBy: actor.actorId,
    method: body.method,
    referenceC: judged.referenceC,
    measuredC: judged.measuredC,
    toleranceC: judged.toleranceC,
    basis: { ...judged.basis, interval: due.source, cautions: judged.cautions },
    result: judged.result,
    nextDueOn: due.date,
    correctiveAction: body.correctiveAction ?? null,
    documentHref: body.documentHref ?? null,
    note: body.note ?? null,
    supersedes: corrects?.row.calibrationId ?? null,
    correctionReason: corrects?.reason ?? null,
    supersededBy: null,
  };
  // From here on only success.
  await store.insertCalibration(tx, row);
  if (corrects?.row.result === 'failed') await clearFindings(tx, 'calibration-failed', [corrects.row.calibrationId]);
  const doubt = await queries.findDoubt(tx, row.calibrationId);
  if (doubt) {
    const { equipmentId, method, toleranceC } = row;
    const told = { equipmentId, equipmentCode: probe.code, method, errorC: judged.errorC, toleranceC };
    const finding = {
      kind: 'calibration-failed',
      subject: calibrationId,
      siteId: site.siteId,
      lotId: null,
      quantity: null,
      occurredAtMs,
      detail: { factId: calibrationId, calibrationId, ...told, checksInDoubt: doubt.checks },
    };
    await openFindings(tx, [finding], nowMs);
    await outbox(tx, 'calibration-failed', { calibrationId, equipmentId, siteId: site.siteId }, nowMs);
  }
  return {
    status: 201,
    body: { ...answerOf(row), doubt: doubtOf(doubt) },
    siteId: site.siteId,
    headers: { Location: `/v1/calibrations/${row.calibrationId}` },
  };
}

export async function calibrate(context: Context<typeof contract.createCalibration>): Promise<Reply> {
  const { body, params, factId } = context;
  return record(context, { calibrationId: factId, equipmentId: params.equipmentId, body, corrects: null });
}

/** Under the exclusive gate, so that a calibration is corrected once. */
export async function correctCalibration(context: Context<typeof createCalibrationCorrection>): Promise<Reply> {
  const { body, params, factId } = context;
  const row = await getVisible(context, params.calibrationId);
  if (row.supersededBy !== null) {
    const detail = `Calibration ${row.supersededBy} stands in its place.`;
    throw new Refused('already-corrected', detail, { members: { supersededBy: row.supersededBy } });
  }
  const corrects = { row, reason: body.reason };
  return record(context, { calibrationId: factId, equipmentId: row.equipmentId, body, corrects });
}

export async function readCalibrations(context: Context<typeof contract.listCalibrations>): Promise<Reply> {
  const { tx, params, scope, query, path } = context;
  const probe = (await findEquipment(tx, [params.equipmentId])).get(params.equipmentId);
  if (!probe || !scope.includes(probe.siteId)) throw notFound('equipment');
  const page = pageOf(query, ['time', 'uuid']);
  const rows = await store.listCalibrationRows(tx, probe.equipmentId, page);
  return pageReply(path, query, page, rows.map(answerOf), (row) => [row.occurredAt, row.calibrationId]);
}

async function getVisible({ tx, scope }: Pick<Context, 'tx' | 'scope'>, calibrationId: string) {
  const row = await store.findCalibration(tx, calibrationId);
  if (!row || !scope.includes(row.siteId)) throw notFound('calibration');
  return row;
}

async function withLots({ tx, scope }: Pick<Context, 'tx' | 'scope'>, rows: readonly queries.SuspectRow[]) {
  const checkIds = rows.map((row) => row.checkId);
  const lots = await queries.listSuspectLots(tx, checkIds);
  return rows.map((row) => {
    const own = lots.filter((lot) => lot.checkId === row.checkId);
    return {
      ...row,
      occurredAt: row.occurredAt.toISOString(),
      lots: own.map((lot) => ({
        lotId: lot.lotId,
        code: lot.code,
        itemName: lot.itemName,
        unit: lot.unit,
        awaitingRelease: lot.heldBy.includes('awaiting-release'),
        heldBy: [...lot.heldBy],
        ...queries.whereOf(lot, scope),
      })),
      moreLots: (own[0]?.lots ?? 0) - own.length,
    };
  });
}

const FIRST_SUSPECTS = 50;

export async function readCalibration(context: Context<typeof contract.getCalibration>): Promise<Reply> {
  const { tx, params } = context;
  const row = await getVisible(context, params.calibrationId);
  const doubt = await queries.findDoubt(tx, row.calibrationId);
  const page = { limit: FIRST_SUSPECTS, after: null };
  const first = (await queries.listSuspectRows(tx, row.calibrationId, page)).slice(0, FIRST_SUSPECTS);
  const suspectChecks = await withLots(context, first);
  return { status: 200, body: { ...answerOf(row), doubt: doubtOf(doubt), suspectChecks } };
}

export async function readSuspectChecks(context: Context<typeof contract.listSuspectChecks>): Promise<Reply> {
  const { tx, params, query, path } = context;
  const row = await getVisible(context, params.calibrationId);
  const page = pageOf(query, ['time', 'uuid']);
  const rows = await withLots(context, await queries.listSuspectRows(tx, row.calibrationId, page));
  return pageReply(path, query, page, rows, (one) => [one.occurredAt, one.checkId]);
}

export async function readProbes(context: Context<typeof contract.listProbes>): Promise<Reply> {
  const { tx, scope, query, path, nowMs } = context;
  requireDays({ dueBefore: query.dueBefore });
  const dueBefore = query.dueBefore ?? null;
  const page = pageOf(query, ['text', 'uuid']);
  const filter = { siteId: query.siteId ?? null, dueBefore, atMs: nowMs };
  const rows = (await store.listProbeRows(tx, scope, filter, page)).map(({ seen, last, ...probe }) => {
    const standing = standingOf(seen);
    return {
      ...probe,
      state: standing.state,
      decidedBy: standing.calibrationId,
      last: last && {
        calibrationId: last.calibrationId,
        occurredAt: utc(last.occurredAtMs),
        method: last.method,
        errorC: last.errorC,
        result: last.result,
        nextDueOn: last.nextDueOn,
      },
    };
  });
  return pageReply(path, query, page, rows, (row) => [row.code, row.equipmentId]);
}
