/**
 * Makes what belongs to a close, one step after the other; each step and that it is done are kept together. Stopped between any two
 * statements it goes on with the step in which it was stopped, and makes the same bytes: all of it follows from the cut of the close.
 *
 * The transaction that reads stays open for a step and holds no gate; what is made is written in short transactions of its own, so that the
 * kitchens do not wait for a workbook.
 */
import { createHash } from 'node:crypto';
import canonicalizeModule from 'canonicalize';
import { signedContent } from '../../../domain/month-close.ts';
import type { Clock } from '../../../platform/clock.ts';
import type { Db, Tx } from '../../../platform/db/db.ts';
import type { Job } from '../../../platform/jobs.ts';
import { refreshCosts } from '../costs/index.ts';
import { digestTo, listLineSums, listLinesOf, makeMonthReport } from '../month/index.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { reportCsv, reportHtml, reportPdf, reportXlsx } from '../pages/index.ts';
import { digester, inPieces, readPieces } from '../pieces.ts';
import { takeTurn } from '../turns.ts';
import { CONTENT_TYPES, type FileKind } from './shapes.ts';
import { MAKE_MONTH_FILES, nextStep, STEPS, type Step } from './steps.ts';
import * as files from './store-files.ts';
import { findClose, findUnfinishedClose, finishStep, setFailed, type CloseRow } from './store.ts';

// The package's types describe a CommonJS default export; under NodeNext the callable is the default itself.
const canonicalize = canonicalizeModule as unknown as (value: unknown) => string | undefined;

interface Work {
  readonly close: CloseRow;
  /** reads, for as long as the step takes */
  readonly tx: Tx;
  readonly nowMs: number;
  readonly write: <T>(fn: (tx: Tx) => Promise<T>) => Promise<T>;
}

const LAST: Step = STEPS[STEPS.length - 1] ?? 'pdf';

export function makeMonthFiles({ db, clock }: { readonly db: Db; readonly clock: Clock }): Job {
  return {
    name: MAKE_MONTH_FILES,
    sweep: '* * * * *',
    async run({ groupId }) {
      while (await takeStep(db, groupId, clock.nowMs()));
    },
  };
}

/** Answers whether there may be more to do. */
async function takeStep(db: Db, groupId: string, nowMs: number): Promise<boolean> {
  let begun: { readonly closeId: string; readonly step: Step } | null = null;
  const write = <T>(fn: (tx: Tx) => Promise<T>): Promise<T> => db.inGroup(groupId, 'write', fn);
  try {
    return await db.inGroup(groupId, 'read', async (tx) => {
      const close = await findUnfinishedClose(tx);
      if (!close || !(await takeTurn(tx, close.closeId))) return false;
      // This transaction's view is older than the turn: somebody may have taken the step in between.
      const fresh = await db.inGroup(groupId, 'read', (later) => findClose(later, close.closeId));
      if (fresh?.stepsDone.length !== close.stepsDone.length) return true;
      const step = nextStep(close.stepsDone);
      if (step === null) return false;
      begun = { closeId: close.closeId, step };
      await MAKERS[step]({ close, tx, nowMs, write });
      return true;
    });
  } catch (error) {
    await sayFailed(write, begun);
    throw error;
  }
}

/** For whoever waits. When not even that can be said, the close still says making, and the sweep tries again all the same. */
async function sayFailed(
  write: Work['write'],
  begun: { readonly closeId: string; readonly step: Step } | null,
): Promise<void> {
  if (begun === null) return;
  const { closeId, step } = begun;
  const failure = `The step ${step} broke off. It is tried again every minute.`;
  await write((tx) => setFailed(tx, closeId, failure)).catch(() => undefined);
}

const MAKERS: Readonly<Record<Step, (work: Work) => Promise<void>>> = {
  costs: keepSums,
  json: keepReport,
  signature: sign,
  csv: (work) => keepFile(work, 'csv', async (report) => [Buffer.from(reportCsv(report), 'utf8')]),
  xlsx: (work) => keepFile(work, 'xlsx', async (report) => reportXlsx(report, await linesOf(work))),
  html: (work) => keepFile(work, 'html', async (report) => [Buffer.from(reportHtml(report), 'utf8')]),
  pdf: (work) => keepFile(work, 'pdf', async (report) => [await reportPdf(report)]),
};

/**
 * A sheet ends at 1,048,576 rows, and a million lines take a minute to write. Beyond this many the workbook of a close holds sums, and says
 * so; each line is in an export of lines. How many there are follows from the cut alone, so the bytes are the same each time.
 */
const MOST_LINES = 200_000;

async function linesOf({ tx, close }: Work) {
  const sums = await listLineSums(tx, askedOf(close), MOST_LINES);
  return sums === null ? listLinesOf(tx, askedOf(close)) : { sums, beyond: MOST_LINES };
}

/** As the month is asked for at the cut of its close. */
function askedOf({ month, cutSeq, cutMoneyNo, cutRecordedAtMs }: CloseRow) {
  const cut = { seq: cutSeq, moneyNo: cutMoneyNo, recordedAtMs: cutRecordedAtMs };
  return { month, throughMonth: month, siteIds: null, cut, restated: false };
}

/** Costs and sums up to now, so that the report, and every later one, reads the past from them. */
async function keepSums({ close, nowMs, write }: Work): Promise<void> {
  await write((tx) => refreshCosts(tx, nowMs));
  await write(async (tx) => {
    await digestTo(tx, close.cutSeq);
    await finishStep(tx, close.closeId, 'costs', { last: false });
  });
}

async function keepReport(work: Work): Promise<void> {
  const report = await makeMonthReport(work.tx, askedOf(work.close));
  const bytes = Buffer.from(canonicalize(report) ?? 'null', 'utf8');
  await keep(work, 'json', [bytes]);
}

async function sign({ close, write }: Work): Promise<void> {
  const { month, checks, accepted, reportHash, previousHash, previousCloseId } = close;
  if (reportHash === null) throw new Error('the report has no hash yet');
  if (previousCloseId !== null && previousHash === null) throw new Error('the close before has no hash yet');
  const content = signedContent({
    month,
    cut: { seq: close.cutSeq, moneyNo: close.cutMoneyNo },
    reportSha256: reportHash.toString('hex'),
    checks,
    accepted,
    previousHash: previousHash === null ? null : previousHash.toString('hex'),
  });
  const signatureHash = createHash('sha256')
    .update(canonicalize(content) ?? 'null', 'utf8')
    .digest();
  await write((tx) => finishStep(tx, close.closeId, 'signature', { signatureHash, last: false }));
}

/** The report as it was signed. */
export async function readReport(tx: Tx, closeId: string): Promise<MonthReportAnswer> {
  const pieces: Buffer[] = [];
  for await (const piece of readPieces((pieceNo) => files.findPiece(tx, closeId, 'json', pieceNo))) pieces.push(piece);
  return JSON.parse(Buffer.concat(pieces).toString('utf8')) as MonthReportAnswer;
}

type Chunks = AsyncIterable<Buffer> | Iterable<Buffer>;

async function keepFile(
  work: Work,
  kind: FileKind,
  make: (report: MonthReportAnswer) => Promise<Chunks>,
): Promise<void> {
  await keep(work, kind, await make(await readReport(work.tx, work.close.closeId)));
}

async function keep({ close, write, nowMs }: Work, kind: FileKind, chunks: Chunks): Promise<void> {
  const { closeId } = close;
  await write((tx) => files.deletePieces(tx, closeId, kind));
  const sum = digester();
  let pieceNo = 0;
  for await (const piece of inPieces(chunks)) {
    const no = pieceNo;
    await write((tx) => files.insertPiece(tx, closeId, kind, no, piece));
    sum.see(piece);
    pieceNo += 1;
  }
  const digest = sum.digest();
  await write(async (tx) => {
    await files.insertFile(tx, { closeId, kind, contentType: CONTENT_TYPES[kind], ...digest }, nowMs);
    const hash = kind === 'json' ? { reportHash: digest.sha256 } : {};
    await finishStep(tx, closeId, kind, { ...hash, last: kind === LAST });
  });
}
