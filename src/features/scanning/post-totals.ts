/** Totals into the ledger: takes back what does not govern any more, then posts what does. */
import { post, type Book, type Move } from '../../domain/ledger/book.ts';
import { outside } from '../ledger/index.ts';
import { draftOf, kindOf, saidOf } from './drafts.ts';
import type { TotalScan } from './store.ts';
import { placeIdOf, type Retotal } from './totals.ts';
import type { ScanWork } from './work.ts';

/** What was posted and what will be, in the same words: a row says all that its move needs, for good. */
function moveOf(site: ScanWork['site'], scan: TotalScan): Move {
  const place = placeIdOf(scan);
  const [from, to] = {
    arrival: [scan.dispatchId ?? '', place],
    'put-away': [scan.presumedPlaceId ?? '', place],
    use: [place, outside('served', site.siteId)],
    discard: [place, outside('waste', site.siteId)],
  }[scan.kind as 'arrival' | 'put-away' | 'use' | 'discard'] as [string, string];
  return {
    lotId: scan.lotId ?? '',
    fromAccountId: from,
    toAccountId: to,
    quantity: scan.quantity ?? 1,
    basis: 'counted',
    ...saidOf(scan),
  };
}

/** @param fresh ids of scans whose first entry this is: it has the scan's own id */
export function postTotals(
  work: Pick<ScanWork, 'site' | 'ids'>,
  book: Book,
  totals: Retotal,
  fresh: ReadonlySet<string>,
): void {
  for (const scan of totals.undo) {
    const move = moveOf(work.site, scan);
    const back: Move = { ...move, fromAccountId: move.toAccountId, toAccountId: move.fromAccountId };
    post(book, {
      ...draftOf(scan, work.ids.newId(), 'reversal', [back]),
      ...(scan.entryId !== null && { reversesEntryId: scan.entryId }),
      note: { reason: 'Another scan says what this total is' },
    });
  }
  for (const scan of totals.make) {
    const move = moveOf(work.site, scan);
    // put away where it was presumed to be already
    if (move.fromAccountId === move.toAccountId) continue;
    const entryId = fresh.has(scan.scanId) ? scan.scanId : work.ids.newId();
    post(book, draftOf(scan, entryId, kindOf(scan), [move]));
  }
}

/** Places and dispatches that these changes touch. */
export function partsOfTotals(totals: Retotal): { lotId: string; placeId?: string; dispatchId?: string }[] {
  return [...totals.undo, ...totals.make].flatMap((scan) => {
    const lotId = scan.lotId ?? '';
    return [
      { lotId, placeId: placeIdOf(scan) },
      ...(scan.kind === 'put-away' ? [{ lotId, placeId: scan.presumedPlaceId ?? '' }] : []),
      ...(scan.kind === 'arrival' ? [{ lotId, dispatchId: scan.dispatchId ?? '' }] : []),
    ];
  });
}
