/**
 * Makes exports in the background, the one that has waited longest first. An export is read at its cut in a transaction that holds no gate,
 * and kept piece by piece in short ones, each together with how many lines are done. Stopped half-way, a file of lines goes on after the
 * last piece that was kept; a workbook or a page begins anew. After three tries it is given up. Files are deleted after 30 days.
 */
import type { Clock } from '../../../platform/clock.ts';
import type { Db, Tx } from '../../../platform/db/db.ts';
import type { Job } from '../../../platform/jobs.ts';
import { countLinesOf, listLinesOf, makeMonthReport } from '../month/index.ts';
import { reportCsv, reportHtml, reportPdf, reportXlsx, type BookLine } from '../pages/index.ts';
import { digester, inPieces, readPieces, type Digest } from '../pieces.ts';
import { takeTurn } from '../turns.ts';
import { hasLines } from './answer.ts';
import { KEPT_DAYS } from './contract.ts';
import { LINE_TEXTS } from './lines-text.ts';
import { EXPORT_JOB } from './names.ts';
import * as store from './store.ts';

const MOST_TRIES = 3;
const DAY_MS = 86_400_000;

interface Work {
  readonly row: store.ExportRow;
  /** reads, for as long as it takes */
  readonly tx: Tx;
  readonly write: <T>(fn: (tx: Tx) => Promise<T>) => Promise<T>;
  readonly firstPieceNo: number;
}

export function makeReportExports({ db, clock }: { readonly db: Db; readonly clock: Clock }): Job {
  return {
    name: EXPORT_JOB,
    sweep: '* * * * *',
    async run({ groupId }) {
      while (await makeNext(db, groupId, clock));
      await db.inGroup(groupId, 'write', (tx) => store.trimExports(tx, clock.nowMs() - KEPT_DAYS * DAY_MS));
    },
  };
}

/** Answers whether there may be more to do. */
async function makeNext(db: Db, groupId: string, clock: Clock): Promise<boolean> {
  const write = <T>(fn: (tx: Tx) => Promise<T>): Promise<T> => db.inGroup(groupId, 'write', fn);
  return db.inGroup(groupId, 'read', async (tx) => {
    const waiting = await store.findUnfinishedExport(tx);
    if (!waiting || !(await takeTurn(tx, waiting.exportId))) return false;
    const { exportId } = waiting;
    const goesOn = waiting.report === 'lines';
    const begun = await write(async (writer) => {
      if (!goesOn) await store.deletePieces(writer, exportId);
      const row = await store.beginTry(writer, exportId, MOST_TRIES, !goesOn);
      return row && { row, firstPieceNo: goesOn ? await store.countPieces(writer, exportId) : 0 };
    });
    // null: somebody else made it since this transaction began to look
    if (begun?.row.state !== 'making') return true;
    const rows = await make({ ...begun, tx, write });
    const digest = await db.inGroup(groupId, 'read', (fresh) => digestOf(fresh, exportId));
    await write((writer) => store.setReady(writer, exportId, { ...digest, rows }, clock.nowMs()));
    return true;
  });
}

/** Of what was kept, this try's and those before. */
async function digestOf(tx: Tx, exportId: string): Promise<Digest> {
  const sum = digester();
  for await (const piece of readPieces((pieceNo) => store.findPiece(tx, exportId, pieceNo))) sum.see(piece);
  return sum.digest();
}

/** Answers how many lines are in it; of a page, 1. */
async function make(work: Work): Promise<number> {
  const { row, write, firstPieceNo } = work;
  let done = 0;
  let pieceNo = firstPieceNo;
  for await (const piece of inPieces(chunksOf(work, (lines) => void (done = lines)))) {
    const at = { no: pieceNo, done };
    await write(async (writer) => {
      await store.insertPiece(writer, row.exportId, at.no, piece);
      await store.setRows(writer, row.exportId, at.done);
    });
    pieceNo += 1;
  }
  return Math.max(done, row.rowsDone);
}

async function* chunksOf(work: Work, progress: (lines: number) => void): AsyncGenerator<Buffer> {
  const { row, tx } = work;
  const { month, throughMonth, siteIds } = row;
  const cut = { seq: row.cutSeq, moneyNo: row.cutMoneyNo, recordedAtMs: row.cutRecordedAtMs };
  const asked = { month, throughMonth, siteIds: siteIds === null ? null : [...siteIds], cut, restated: false };
  if (hasLines(row)) {
    const of = await countLinesOf(tx, asked);
    await work.write((writer) => store.setTotal(writer, row.exportId, of));
  }
  if (row.report === 'lines') {
    yield* lineChunks(work, listLinesOf(tx, asked), progress);
    return;
  }
  const report = await makeMonthReport(tx, asked);
  switch (row.format) {
    case 'json':
      yield Buffer.from(JSON.stringify(report), 'utf8');
      return;
    case 'csv':
      yield Buffer.from(reportCsv(report), 'utf8');
      return;
    case 'html':
      yield Buffer.from(reportHtml(report), 'utf8');
      return;
    case 'pdf':
      yield await reportPdf(report);
      return;
    case 'xlsx':
      yield* reportXlsx(report, counted(listLinesOf(tx, asked), progress));
  }
}

async function* counted(lines: AsyncIterable<BookLine>, progress: (lines: number) => void): AsyncGenerator<BookLine> {
  let done = 0;
  for await (const line of lines) {
    yield line;
    done += 1;
    progress(done);
  }
}

/** Lines come in the same order every time, so those that are kept already are passed over. */
async function* lineChunks(
  { row, firstPieceNo }: Work,
  lines: AsyncIterable<BookLine>,
  progress: (lines: number) => void,
): AsyncGenerator<Buffer> {
  const { head, recordOf } = LINE_TEXTS[row.format === 'csv' ? 'csv' : 'json'];
  if (firstPieceNo === 0 && head !== '') yield Buffer.from(head, 'utf8');
  let at = 0;
  for await (const line of lines) {
    at += 1;
    if (at <= row.rowsDone) continue;
    progress(at);
    yield Buffer.from(recordOf(line), 'utf8');
  }
}
