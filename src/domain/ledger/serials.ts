/**
 * A serial's fate is a pure function of its scans: sorted by event time, then id. Whatever order they arrive in, the same
 * scans give the same postings; when a late scan changes the path, the entries that no longer fit are reversed and posted
 * anew.
 */

export interface SerialScan {
  readonly scanId: string;
  readonly kind: 'arrival' | 'put-away' | 'use' | 'discard' | 'conversion';
  readonly occurredAtMs: number;
  readonly siteId: string;
  /** arrival only */
  readonly dispatchId: string | null;
  /** the place named by the scan; the site's receiving place when it names none */
  readonly placeId: string;
  readonly receivingPlaceId: string;
}

/** Where a leg starts or ends; `served`, `waste` and `consumed` stand for the site's own accounts. */
export type Stop =
  | { at: 'transit'; dispatchId: string }
  | { at: 'place'; placeId: string }
  | { at: 'served' }
  | { at: 'waste' }
  | { at: 'consumed' };

export type Fate =
  | { readonly scanId: string; readonly outcome: 'posts'; readonly from: Stop; readonly to: Stop }
  | { readonly scanId: string; readonly outcome: 'nothing' }
  | { readonly scanId: string; readonly outcome: 'already-recorded' }
  | {
      readonly scanId: string;
      readonly outcome: 'finding';
      readonly finding: 'ended-twice' | 'seen-after-end';
      /** conversion only: where the pack was, since what came of it stands there all the same */
      readonly placeId?: string;
    };

const END = { use: 'served', discard: 'waste', conversion: 'consumed' } as const;

/** One fate per scan, in event order. */
export function pathOf(scans: readonly SerialScan[]): Fate[] {
  const ordered = [...scans].sort((a, b) => a.occurredAtMs - b.occurredAtMs || (a.scanId < b.scanId ? -1 : 1));
  const arrived = new Set<string>();
  let ended = false;
  let location: { siteId: string; placeId: string } | null = null;
  return ordered.map((scan): Fate => {
    const { scanId } = scan;
    if (scan.kind === 'arrival') {
      const dispatchId = scan.dispatchId ?? '';
      if (arrived.has(dispatchId)) {
        // Left at the wrong site first, or taken on by hand: it leaves where it was seen, not the van again.
        if (ended || location === null || location.siteId === scan.siteId)
          return { scanId, outcome: 'already-recorded' };
        const from = { at: 'place', placeId: location.placeId } as const;
        location = { siteId: scan.siteId, placeId: scan.placeId };
        return { scanId, outcome: 'posts', from, to: { at: 'place', placeId: scan.placeId } };
      }
      arrived.add(dispatchId);
      if (!ended) location = { siteId: scan.siteId, placeId: scan.placeId };
      return {
        scanId,
        outcome: 'posts',
        from: { at: 'transit', dispatchId },
        to: { at: 'place', placeId: scan.placeId },
      };
    }
    const here = location?.siteId === scan.siteId ? location.placeId : null;
    if (scan.kind === 'put-away') {
      if (ended) return { scanId, outcome: 'finding', finding: 'seen-after-end' };
      const from = here ?? scan.receivingPlaceId;
      location = { siteId: scan.siteId, placeId: scan.placeId };
      if (from === scan.placeId) return { scanId, outcome: 'nothing' };
      return {
        scanId,
        outcome: 'posts',
        from: { at: 'place', placeId: from },
        to: { at: 'place', placeId: scan.placeId },
      };
    }
    const placeId = here ?? scan.placeId;
    if (ended) {
      return { scanId, outcome: 'finding', finding: 'ended-twice', ...(scan.kind === 'conversion' && { placeId }) };
    }
    ended = true;
    return { scanId, outcome: 'posts', from: { at: 'place', placeId }, to: { at: END[scan.kind] } };
  });
}

/** Where the pack was when this scan ended it, or would have; null for other scans. */
export function placeEnded(fate: Fate): string | null {
  if (fate.outcome === 'finding') return fate.placeId ?? null;
  return fate.outcome === 'posts' && fate.from.at === 'place' ? fate.from.placeId : null;
}

export function sameFate(a: Fate | undefined, b: Fate): boolean {
  return JSON.stringify(a) === JSON.stringify(b);
}
