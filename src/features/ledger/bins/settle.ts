/**
 * After a fact touches a bin: what was taken from it is booked from the lots that it is now known to have held, and every lot that may
 * be in it is a parent of what the batch made. Late fills join with their holds, dates and allergens. A set that shrinks because
 * the bin turns out to have been emptied keeps its edges and holds: only the undoing of a fill takes its edges back. Findings:
 * `past-use-by`, `used-while-held`, `used-from-quarantine`, `time-ahead`, `made-from-itself`, `shortfall`.
 */
import { walkBin } from '../../../domain/ledger/bins.ts';
import { partKey, post, type Book, type EntryDraft, type Move } from '../../../domain/ledger/book.ts';
import { NeedsExclusiveGate } from '../../../platform/db/db.ts';
import { findPlaces } from '../../catalogue/index.ts';
import { outside, placeAccount } from '../accounts.ts';
import { loadBook, writeEntries, type WriteContext, type WrittenEntry } from '../book.ts';
import { holdsOfDoubt, insertDoubtfulInput } from '../doubts.ts';
import { ancestorsAmong } from '../edges-store.ts';
import { openFindings, type FindingDraft } from '../findings-store.ts';
import { findHoldsReaching, holdsAgainstInput, insertFollowingHolds } from '../holds-store.ts';
import { joinLate } from '../late-edges.ts';
import { findOwnDates } from '../part-dates-store.ts';
import { findLots, type LotRow } from '../lots-store.ts';
import { doubtsOf, findingsOf, shortfallNow } from '../observe.ts';
import { loadBin, unknownLotId } from './facts.ts';
import {
  deleteMembers,
  insertMembers,
  listBinsTouched,
  listEverIn,
  listOutputIds,
  setStandingEntry,
  type BinInputRow,
  type BinRef,
} from './store.ts';
import { ensureUnknownLot } from './unknown.ts';

type Shares = BinInputRow['shares'];

const shareKey = (shares: Shares): string =>
  shares
    .map(({ lotId, quantity }) => `${lotId}:${quantity}`)
    .sort()
    .join();

/** Every bin from which something was taken at or after what the book touched. */
export async function settleTouched(context: WriteContext, book: Book): Promise<void> {
  if (book.touched.size === 0) return;
  const parts = Array.from(book.touched, (key) => key.split('|'));
  const lotIds = [...new Set(parts.map(([lotId = '']) => lotId))];
  const placeIds = [...new Set(parts.map(([, accountId = '']) => accountId))];
  const fromMs = book.accepted.reduce((least, { draft }) => Math.min(least, draft.occurredAtMs), Infinity);
  for (const bin of await listBinsTouched(context.tx, placeIds, lotIds, fromMs)) await settleBin(context, bin, fromMs);
}

export interface Settled {
  readonly written: readonly WrittenEntry[];
  readonly findings: readonly FindingDraft[];
}

/** @param askedId an input that was asked for just now: nothing stands against it, and it makes no findings */
export async function settleBin(
  context: WriteContext,
  bin: BinRef,
  fromMs: number,
  askedId: string | null = null,
): Promise<Settled> {
  const { tx, nowMs } = context;
  if (tx.mode !== 'exclusive') throw new NeedsExclusiveGate();
  const { facts, inputs } = await loadBin(tx, bin, fromMs);
  const { taken } = walkBin(facts, unknownLotId(bin));
  const changes = inputs.flatMap((input) => {
    const wanted = taken.get(input.inputId);
    return wanted ? [{ input, lotIds: wanted.lotIds, shares: wanted.shares }] : [];
  });
  if (changes.some(({ lotIds }) => lotIds.includes(unknownLotId(bin)))) await ensureUnknownLot(tx, bin, nowMs);
  const reposted = changes.filter(({ input, shares }) => shareKey(input.shares) !== shareKey(shares));
  const written: WrittenEntry[] = [];
  const findings: FindingDraft[] = [];
  if (reposted.length > 0) {
    const { entries, short } = await repost(context, bin, reposted);
    written.push(...entries);
    findings.push(...short);
  }
  for (const { input, lotIds } of changes) {
    findings.push(...(await join(context, bin, input, lotIds, input.inputId === askedId)));
  }
  return { written, findings };
}

interface Repost {
  readonly input: BinInputRow;
  readonly shares: Shares;
}

/** Takes back what was booked from the wrong lots and books it from the right ones, at its own time. */
async function repost(
  context: WriteContext,
  bin: BinRef,
  changes: readonly Repost[],
): Promise<{ entries: WrittenEntry[]; short: FindingDraft[] }> {
  const account = placeAccount(bin.placeId, bin.siteId);
  const lotIds = [...new Set(changes.flatMap(({ input, shares }) => [...input.shares, ...shares].map((s) => s.lotId)))];
  const book = await loadBook(
    context.tx,
    lotIds.map((lotId) => ({ lotId, account })),
    [bin.siteId],
  );
  const consumed = outside('consumed', bin.siteId);
  const made: { input: BinInputRow; entryId: string }[] = [];
  for (const { input } of changes) {
    if (input.entryId === null) continue;
    const back = input.shares.map(({ lotId, quantity }): Move => {
      return { lotId, fromAccountId: consumed, toAccountId: bin.placeId, quantity, basis: 'derived' };
    });
    const note = { reason: 'What the bin held is known better now' };
    const draft = {
      ...draftOf(input, bin, context.ids.newId(), 'reversal', back),
      reversesEntryId: input.entryId,
      note,
    };
    post(book, draft);
  }
  for (const { input, shares } of changes) {
    const entryId = input.entryId === null ? input.inputId : context.ids.newId();
    const moves = shares.map(({ lotId, quantity }): Move => {
      return { lotId, fromAccountId: bin.placeId, toAccountId: consumed, quantity, basis: 'derived' };
    });
    post(book, { ...draftOf(input, bin, entryId, 'batch-input', moves), note: { binInputId: input.inputId } });
    made.push({ input, entryId });
  }
  const entries = await writeEntries(context, book);
  for (const { input, entryId } of made) await setStandingEntry(context.tx, input.inputId, entryId);
  const lots = await findLots(context.tx, lotIds);
  const short = changes.flatMap(({ input, shares }) =>
    shares.flatMap(({ lotId }) => {
      const lot = lots.get(lotId);
      return lot ? shortfallNow(book, lot, bin, input.atMs, input.inputId) : [];
    }),
  );
  return {
    entries,
    short: [
      ...new Map(short.map((one) => [partKey({ lotId: one.lotId ?? '', accountId: bin.placeId }), one])).values(),
    ],
  };
}

function draftOf(input: BinInputRow, bin: BinRef, entryId: string, kind: string, moves: readonly Move[]): EntryDraft {
  return {
    entryId,
    kind,
    factId: input.inputId,
    siteId: bin.siteId,
    occurredAtMs: input.atMs,
    occurredOn: input.occurredOn,
    contentHash: input.contentHash,
    batchId: input.batchId,
    moves,
  };
}

/** Brings the lots that may be in an input up to what is known; answers what is found against those that are new. */
async function join(
  context: WriteContext,
  bin: BinRef,
  input: BinInputRow,
  lotIds: readonly string[],
  asked: boolean,
): Promise<FindingDraft[]> {
  const { tx, actorId, nowMs } = context;
  const { inputId, batchId } = input;
  const left = input.lotIds.filter((lotId) => !lotIds.includes(lotId));
  if (left.length > 0) {
    const stay = new Set(await listEverIn(tx, bin.placeId, left, input.atMs));
    const gone = left.filter((lotId) => !stay.has(lotId));
    if (gone.length > 0) await deleteMembers(tx, batchId, inputId, gone, nowMs);
  }
  const fresh = lotIds.filter((lotId) => !input.lotIds.includes(lotId));
  if (fresh.length === 0) return [];
  await insertMembers(tx, inputId, fresh);
  const outputIds = await listOutputIds(tx, batchId);
  const findings: FindingDraft[] = [];
  const edges = [];
  const own = outputIds.length > 0 ? await findOwnDates(tx, bin.placeId, fresh) : new Map<string, number>();
  for (const parentLotId of fresh) {
    const before = outputIds.length > 0 ? await ancestorsAmong(tx, parentLotId, outputIds) : new Set<string>();
    if (before.size > 0) findings.push(madeFromItself(bin, input, parentLotId, before));
    const made = outputIds.filter((outputId) => !before.has(outputId));
    const { capsUseBy } = input;
    const partUseByAtMs = own.get(parentLotId) ?? null;
    edges.push(
      ...made.map((childLotId) => ({ parentLotId, childLotId, processId: batchId, capsUseBy, partUseByAtMs })),
    );
  }
  if (!asked) findings.push(...(await against(context, bin, input, fresh, outputIds)));
  await openFindings(tx, findings, nowMs);
  await joinLate(tx, edges, actorId, nowMs);
  return findings;
}

async function against(
  context: WriteContext,
  bin: BinRef,
  input: BinInputRow,
  lotIds: readonly string[],
  outputIds: readonly string[],
): Promise<FindingDraft[]> {
  const { tx, actorId, nowMs } = context;
  const { inputId, atMs } = input;
  const place = (await findPlaces(tx, [bin.placeId])).get(bin.placeId);
  const lots = await findLots(tx, lotIds);
  const holds = holdsAgainstInput(await findHoldsReaching(tx, lotIds, Math.min(atMs, nowMs)), !input.capsUseBy);
  const findings: FindingDraft[] = [];
  for (const lot of lots.values()) {
    if (!place) continue;
    const seen = { factId: inputId, lot, place, occurredAtMs: atMs, serving: true, action: 'use-in-batch' } as const;
    findings.push(...findingsOf(seen, holds, nowMs).map((finding) => ofLot(finding, lot)));
    const reasons = doubtsOf(seen, holds);
    if (reasons.length === 0) continue;
    const doubt = { entryId: inputId, lotId: lot.lotId, lotCode: lot.code, reasons };
    await insertDoubtfulInput(tx, input.batchId, doubt);
    await insertFollowingHolds(tx, holdsOfDoubt(doubt, outputIds), actorId, nowMs);
  }
  return findings;
}

/** One fact shows something of several lots. That its clock is ahead, it shows once. */
function ofLot(finding: FindingDraft, lot: LotRow): FindingDraft {
  return finding.kind === 'time-ahead' ? finding : { ...finding, subject: `${finding.subject}|${lot.lotId}` };
}

function madeFromItself(bin: BinRef, input: BinInputRow, lotId: string, before: ReadonlySet<string>): FindingDraft {
  const { inputId, batchId, batchCode, atMs } = input;
  const detail = { batchId, batchCode, madeFrom: [...before].sort(), factId: inputId };
  const about = { siteId: bin.siteId, lotId, quantity: null, occurredAtMs: atMs };
  return { kind: 'made-from-itself', subject: `${inputId}|${lotId}`, ...about, detail };
}
