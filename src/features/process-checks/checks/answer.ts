/** A check as an answer, with its corrective actions. */
import { limitWords, type HeldAgainst } from '../../../domain/process-checks/consequences.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Reply } from '../../../platform/http/contract.ts';
import { findCheck, listActions, listCheckRowsOf, type ActionRow, type CheckOwners, type CheckRow } from './queries.ts';
import type { ReleasedLot, TakenCheck } from './shapes.ts';

const actionAnswer = ({ checkId: _checkId, ...row }: ActionRow) => ({
  ...row,
  occurredAt: row.occurredAt.toISOString(),
  recordedAt: row.recordedAt.toISOString(),
});

const limitsAnswer = (limits: HeldAgainst, kind: CheckRow['kind']) => ({
  ...limits,
  inWords: limitWords(kind, limits.limit),
});

function deviationOf({ result, closed }: CheckRow): 'none' | 'open' | 'closed' {
  if (result === 'passed') return 'none';
  return closed ? 'closed' : 'open';
}

function checkAnswer(row: CheckRow, actions: readonly ActionRow[]) {
  const { aboutKind, aboutId, occurredAt, recordedAt, judgement, limits, closed: _closed, ...rest } = row;
  return {
    ...rest,
    about: { kind: aboutKind, id: aboutId },
    occurredAt: occurredAt.toISOString(),
    recordedAt: recordedAt.toISOString(),
    limits: limitsAnswer(limits, row.kind),
    reasons: judgement.reasons,
    numbers: judgement.numbers,
    deviation: deviationOf(row),
    correctiveActions: actions.map(actionAnswer),
  };
}

/** A check with everything that a record of it shows; times are RFC 3339. A superseded one names what stands in its place. */
export type CheckDetails = ReturnType<typeof checkAnswer>;

export async function detailsOf(tx: Tx, rows: readonly CheckRow[]): Promise<CheckDetails[]> {
  const actions = await listActions(
    tx,
    rows.map((row) => row.checkId),
  );
  return rows.map((row) =>
    checkAnswer(
      row,
      actions.filter((action) => action.checkId === row.checkId),
    ),
  );
}

/** Every check of these batches, packing runs or lots, superseded ones too, by time. */
export async function listCheckDetails(tx: Tx, owners: CheckOwners): Promise<CheckDetails[]> {
  return detailsOf(tx, await listCheckRowsOf(tx, owners));
}

async function getDetails(tx: Tx, checkId: string): Promise<CheckDetails> {
  const row = await findCheck(tx, checkId);
  const details = row && (await detailsOf(tx, [row]))[0];
  if (!details) throw new Error(`check ${checkId} cannot be read back`);
  return details;
}

/** The check as it is now, with what came of it. @param released lots that waited for nothing else */
export async function checkReply(tx: Tx, taken: TakenCheck, released: readonly ReleasedLot[]): Promise<Reply> {
  const { checkId, siteId, held, findings, remarks } = taken;
  const found = findings.map(({ kind, lotId, quantity, detail }) => ({ kind, lotId, quantity, detail }));
  const body = { ...(await getDetails(tx, checkId)), held, released, findings: found, remarks };
  return { status: 201, body, siteId, headers: { Location: `/v1/process-checks/${checkId}` } };
}
