/** A close and a reopening as they are answered. */
import { utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { getCutNow } from '../../ledger/index.ts';
import type { MonthCloseAnswer, ReopeningAnswer } from './shapes.ts';
import { nextStep, STEPS } from './steps.ts';
import { listFiles } from './store-files.ts';
import { findReopenings, listActiveCloses, type CloseRow, type ReopeningRow } from './store.ts';

export function reopeningAnswer(row: ReopeningRow): ReopeningAnswer {
  return {
    reopeningId: row.reopeningId,
    closeId: row.closeId,
    month: row.month,
    state: row.confirmedBy === null ? 'asked' : 'confirmed',
    reason: row.reason,
    askedBy: row.askedBy,
    askedAt: utc(row.askedAt.getTime()),
    confirmedBy: row.confirmedBy,
    confirmedAt: row.confirmedAt === null ? null : utc(row.confirmedAt.getTime()),
  };
}

export async function closeAnswers(tx: Tx, rows: readonly CloseRow[]): Promise<MonthCloseAnswer[]> {
  const closeIds = rows.map((row) => row.closeId);
  const files = await listFiles(tx, closeIds);
  const reopenings = await findReopenings(tx, closeIds);
  const active = new Set((await listActiveCloses(tx, await getCutNow(tx))).map(({ closeId }) => closeId));
  return rows.map((row) => {
    const reopening = reopenings.get(row.closeId);
    return {
      closeId: row.closeId,
      month: row.month,
      version: row.version,
      counts: active.has(row.closeId),
      state: row.state,
      progress: { done: row.stepsDone.length, of: STEPS.length, step: nextStep(row.stepsDone) },
      failure: row.failure,
      cut: { seq: row.cutSeq, moneyNo: row.cutMoneyNo, recordedAt: utc(row.cutRecordedAtMs) },
      checks: [...row.checks],
      accepted: [...row.accepted],
      signature: signatureOf(row),
      files: files
        .filter(({ closeId }) => closeId === row.closeId)
        .map(({ kind, contentType, bytes, sha256 }) => ({
          kind,
          contentType,
          bytes,
          sha256: sha256.toString('hex'),
          href: `/v1/month-closes/${row.closeId}/files/${kind}`,
        })),
      closedBy: row.closedBy,
      closedAt: utc(row.closedAt.getTime()),
      reopening: reopening ? reopeningAnswer(reopening) : null,
      note: row.note,
    };
  });
}

function signatureOf({ signatureHash, reportHash, previousHash }: CloseRow): MonthCloseAnswer['signature'] {
  if (signatureHash === null || reportHash === null) return null;
  return {
    algorithm: 'sha-256',
    hash: signatureHash.toString('hex'),
    reportSha256: reportHash.toString('hex'),
    previousHash: previousHash === null ? null : previousHash.toString('hex'),
  };
}
