/** Puts a batch's record together. */
import { leftUnsaid, unionAllergens } from '../../../domain/allergens.ts';
import { wordsOfFinding } from '../../../domain/findings.ts';
import { localDate, utc } from '../../../domain/time.ts';
import type { Address } from '../../../platform/http/address.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findPeopleNames } from '../../identity/index.ts';
import { listCheckDetails, type CheckDetails } from '../../process-checks/index.ts';
import { batchAnswer } from '../answer.ts';
import { readinessOf } from '../release/ready.ts';
import { listBorn, type BatchRow } from '../store.ts';
import { cautionsOf } from './cautions.ts';
import { checkOf, planOf } from './checks.ts';
import type { BatchRecord } from './contract.ts';
import {
  findHead,
  listFindings,
  listInputFacts,
  listLotFacts,
  type InputFactsRow,
  type LotFactsRow,
} from './queries.ts';
import { listRuns, type RunRow, type Settings } from './runs-queries.ts';

const MOST_FINDINGS = 200;

type Answer = Awaited<ReturnType<typeof batchAnswer>>;
type Lot = BatchRecord['lots'][number];

export interface WholeRecord {
  readonly record: BatchRecord;
  /** those that its checks were made from, for their pictures */
  readonly details: readonly CheckDetails[];
}

export async function wholeRecord(tx: Tx, batch: BatchRow, nowMs: number): Promise<WholeRecord> {
  const { batchId } = batch;
  const answer = await batchAnswer(tx, batch);
  const head = await findHead(tx, batchId);
  if (!head) throw new Error(`batch ${batchId} cannot be read`);
  const lotIds = answer.lots.map((lot) => lot.lotId);
  const inputFacts = await listInputFacts(tx, [...new Set(answer.inputs.map((input) => input.entryId))]);
  const lotFacts = await listLotFacts(tx, lotIds);
  const runs = await listRuns(tx, batchId);
  const runIds = runs.map((run) => run.packingRunId);
  // What other sites found of its packs is theirs to show, and not everybody who reads this record may read it.
  const checks = (await listCheckDetails(tx, { batchIds: [batchId], runIds, lotIds })).filter(
    ({ siteId }) => siteId === batch.siteId,
  );
  const findings = await listFindings(tx, batch.siteId, lotIds, MOST_FINDINGS);
  const plan = planOf(await readinessOf(tx, batchId, await listBorn(tx, batchId)));
  const names = await findPeopleNames(tx, [
    ...new Set(
      [
        head.openedBy,
        ...inputFacts.map((row) => row.takenBy),
        ...runs.map((row) => row.cleanedBy),
        ...findings.map((row) => row.settledBy),
        ...answer.decisions.map((decision) => decision.decidedBy),
      ].filter((id) => id !== null),
    ),
  ]);
  const nameOf = (id: string | null): string | null => (id === null ? null : (names.get(id) ?? null));
  const lots = answer.lots.map((lot) => lotOf(lot, lotFacts));
  const record: Omit<BatchRecord, 'cautions'> = {
    batchId,
    code: batch.code,
    groupName: head.groupName,
    siteId: batch.siteId,
    siteName: head.siteName,
    siteAddress: addressText(head.siteAddress),
    jurisdiction: head.jurisdiction,
    timeZone: batch.timeZone,
    recipeName: head.recipeName,
    recipeVersion: batch.recipeVersion,
    itemName: head.itemName,
    steps: [...batch.steps],
    killStep: batch.killStep,
    state: batch.state,
    standing: standingOf(lots),
    openedBy: nameOf(head.openedBy),
    startedAt: batch.startedAt.toISOString(),
    completedAt: batch.completedAt?.toISOString() ?? null,
    readAt: utc(nowMs),
    plan,
    inputs: answer.inputs.map((input) => ({
      ...inputOf(input, inputFacts, batch.timeZone, nameOf),
      forRework: answer.reworkOf.some(({ lotId }) => lotId === input.lotId),
    })),
    lots,
    checks: checks.map((check) => checkOf(check, { plan, lots, code: batch.code })),
    runs: runs.map((row) => runOf(row, nameOf)),
    decisions: answer.decisions.map((decision) => decisionOf(decision, lots, nameOf)),
    findings: findings.map(({ settledAt, settledBy, occurredAt, ...row }) => ({
      ...row,
      label: wordsOfFinding(row.kind).label,
      occurredAt: occurredAt.toISOString(),
      settledBy: nameOf(settledBy),
      settledAt: settledAt?.toISOString() ?? null,
    })),
    gains: answer.gains,
    losses: answer.losses,
    yield: answer.yield,
    declaredAllergens: [...head.declaredAllergens],
  };
  return { record: { ...record, cautions: cautionsOf(record) }, details: checks };
}

function addressText(address: Address | null): string | null {
  if (address === null) return null;
  const { street, city, postalCode } = address;
  const parts = [street, city, postalCode].filter((part) => part !== undefined);
  return parts.length === 0 ? null : parts.join(', ');
}

function inputOf(
  input: Answer['inputs'][number],
  facts: readonly InputFactsRow[],
  timeZone: string,
  nameOf: (id: string | null) => string | null,
): Omit<BatchRecord['inputs'][number], 'forRework'> {
  const own = facts.find((row) => row.entryId === input.entryId);
  if (!own) throw new Error(`input ${input.entryId} cannot be read`);
  const { takenAt, takenBy, receivedAt, fromBatchId, fromBatchCode, ...rest } = own;
  return {
    ...input,
    ...rest,
    unit: input.unit as BatchRecord['inputs'][number]['unit'],
    takenAt: takenAt.toISOString(),
    takenBy: nameOf(takenBy),
    receivedOn: receivedAt === null ? null : localDate(receivedAt.getTime(), timeZone),
    fromBatch: fromBatchId === null || fromBatchCode === null ? null : { batchId: fromBatchId, code: fromBatchCode },
  };
}

function lotOf(lot: Answer['lots'][number], facts: readonly LotFactsRow[]): Lot {
  const own = facts.find((row) => row.lotId === lot.lotId);
  if (!own) throw new Error(`lot ${lot.lotId} cannot be read`);
  return {
    lotId: lot.lotId,
    lotCode: lot.lotCode,
    itemName: lot.itemName,
    kind: lot.packingRunId === null ? 'load' : 'packs',
    loadNo: lot.loadNo,
    packingRunId: lot.packingRunId,
    quantity: lot.quantity,
    unit: lot.unit as Lot['unit'],
    massG: own.massMg / 1000,
    bornAt: own.bornAt.toISOString(),
    cookEndedAt: own.cookEndedAtMs === null ? null : utc(own.cookEndedAtMs),
    useByDate: lot.useByDate,
    useByAt: lot.useByAt,
    allergens: unionAllergens([own.allergens]),
    mayContain: unionAllergens([own.mayContain]),
    undeclared: leftUnsaid(own.itemAllergens, own.allergens),
    state: lot.state,
    holds: own.holds,
  };
}

function standingOf(lots: readonly Lot[]): BatchRecord['standing'] {
  const [first, ...more] = [...new Set(lots.map(({ state }) => state))];
  if (first === undefined) return 'nothing-made';
  if (more.length === 0) return first;
  return [first, ...more].includes('released') ? 'partly-released' : 'awaiting-release';
}

function runOf(row: RunRow, nameOf: (id: string | null) => string | null): BatchRecord['runs'][number] {
  const { cleanedAt, cleanedBy, startedAt, finishedAt, fills, settings, ...rest } = row;
  return {
    ...rest,
    startedAt: startedAt.toISOString(),
    finishedAt: finishedAt.toISOString(),
    packsMade: fills.reduce((sum, { packs }) => sum + packs, 0),
    programmeFacts: settings === null ? [] : settingsWords(settings),
    cleanedBefore: cleanedAt === null ? null : { occurredAt: cleanedAt.toISOString(), by: nameOf(cleanedBy) },
    fills: fills.map(({ changedOverMs, ...fill }) => ({ ...fill, changedOverAt: utc(changedOverMs) })),
  };
}

function settingsWords(settings: Settings): string[] {
  const { vacuumMbar, pulses, sealS, sealTemperatureC } = settings;
  const seam = settings.doubleSeam ? 'double seam' : 'seam';
  const heat = typeof sealTemperatureC === 'number' ? ` at ${sealTemperatureC} °C` : '';
  const ways = [
    settings.earlyStop ? 'early stop' : null,
    settings.tiltedInsert ? 'tilted insert' : null,
    settings.gentleAirReturn ? 'gentle air return' : null,
  ].filter((way) => way !== null);
  return [
    `${vacuumMbar} mbar${pulses > 1 ? ` in ${pulses} pulses` : ''}, ${seam} ${sealS} s${heat}`,
    ...(ways.length > 0 ? [ways.join(', ')] : []),
  ];
}

function decisionOf(
  decision: Answer['decisions'][number],
  lots: readonly Lot[],
  nameOf: (id: string | null) => string | null,
): BatchRecord['decisions'][number] {
  const { lotIds, decidedBy, deputyId, accepted, ...rest } = decision;
  return {
    ...rest,
    lotCodes: lots.filter(({ lotId }) => lotIds.includes(lotId)).map(({ lotCode }) => lotCode),
    accepted: [...accepted],
    decidedBy: nameOf(decidedBy),
    asDeputy: deputyId !== null,
  };
}
