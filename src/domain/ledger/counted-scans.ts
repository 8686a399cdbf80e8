/**
 * A counted scan sets a total, it does not add: two beeps of one identical label may be one pack. Scans of a lot without a
 * serial that speak of the same thing form a total; the latest of them in event order (time, then id) says how much it is,
 * whatever order they arrive in. A beep of a crate says how much that crate holds: while the latest word on a total is a
 * crate's, the crates that were beeped make it up together.
 */

/** What decides which total a scan belongs to. */
export interface CountedScan {
  readonly kind: 'arrival' | 'put-away' | 'use' | 'discard';
  readonly lotId: string;
  /** arrival only */
  readonly dispatchId: string | null;
  /** arrival only; accepted when it says nothing */
  readonly condition: string | null;
  /** arrival only: the site where it stands, when it was sent to another */
  readonly astrayAtSiteId?: string | null;
  /** said or presumed; where food goes to (put-away) or leaves from (use, discard) */
  readonly placeId: string;
  /** the site's date */
  readonly occurredOn: string;
  readonly meal: string | null;
  readonly servicePoint: string | null;
  /** use only; null: service */
  readonly purpose: string | null;
  readonly reason: string | null;
  readonly destination: string | null;
  /** discard only; null: food */
  readonly material: string | null;
}

/** The same text for scans that speak of the same thing. A place is at one site, so the site need not be named. */
export function totalKeyOf(scan: CountedScan): string {
  const { kind, lotId, placeId, occurredOn } = scan;
  const about = {
    arrival: [scan.dispatchId, scan.condition ?? 'accepted', ...(scan.astrayAtSiteId ? [scan.astrayAtSiteId] : [])],
    'put-away': [placeId, occurredOn],
    // What is usual is left out, so that totals of before keep their names.
    use: [placeId, occurredOn, scan.meal, scan.servicePoint, ...(scan.purpose === null ? [] : [scan.purpose])],
    discard: [placeId, occurredOn, scan.reason, scan.destination, ...(scan.material === null ? [] : [scan.material])],
  }[kind];
  return JSON.stringify([kind, lotId, ...about]);
}

/** What a scan says about its total. */
export interface TotalSaid {
  readonly scanId: string;
  readonly occurredAtMs: number;
  readonly quantity: number;
  /** null unless a crate's code was read */
  readonly crateCode: string | null;
}

/** The scans of one total that count: the latest, or the latest of each crate. The others post nothing. */
export function governing<T extends TotalSaid>(scans: readonly T[]): T[] {
  const ordered = [...scans].sort((a, b) => a.occurredAtMs - b.occurredAtMs || (a.scanId < b.scanId ? -1 : 1));
  const latest = ordered.at(-1);
  if (!latest) return [];
  if (latest.crateCode === null) return [latest];
  const byCrate = new Map<string, T>();
  for (const scan of ordered) if (scan.crateCode !== null) byCrate.set(scan.crateCode, scan);
  return [...byCrate.values()];
}

/** The total that these scans come to, in the lot's unit. */
export function totalOf(scans: readonly TotalSaid[]): number {
  return governing(scans).reduce((sum, scan) => sum + scan.quantity, 0);
}
