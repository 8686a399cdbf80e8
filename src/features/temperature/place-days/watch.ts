/** How subjects are watched: places by their statements, vehicles and crates by the default for vehicles. */
import type { PlaceKind } from '../../../domain/exposure/defaults.ts';
import type { Monitoring } from '../../../domain/exposure/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findPlaces } from '../../catalogue/index.ts';
import { listStatements, watchOf } from '../monitoring/store.ts';
import { groupBy } from '../../../domain/grouping.ts';

export interface Watch {
  readonly subject: string;
  /** null for vehicles and crates */
  readonly placeId: string | null;
  /** the place's site; null for vehicles and crates */
  readonly siteId: string | null;
  readonly kind: PlaceKind;
  /** of a day, 'YYYY-MM-DD' UTC */
  readonly on: (day: string) => Monitoring;
}

const PLACE = 'place:';

export function placeIdOf(subject: string): string | null {
  return subject.startsWith(PLACE) ? subject.slice(PLACE.length) : null;
}

/** By subject. Places that are not known are left out. */
export async function loadWatches(tx: Tx, subjects: readonly string[]): Promise<Map<string, Watch>> {
  const placeIds = subjects.flatMap((one) => placeIdOf(one) ?? []);
  const places = placeIds.length === 0 ? new Map<string, never>() : await findPlaces(tx, placeIds);
  const statements = groupBy(await listStatements(tx, placeIds), (row) => row.placeId);
  const watches = new Map<string, Watch>();
  for (const subject of subjects) {
    const placeId = placeIdOf(subject);
    if (placeId === null) {
      const kind = 'vehicle';
      watches.set(subject, { subject, placeId, siteId: null, kind, on: watchOf(kind, []) });
      continue;
    }
    const place = places.get(placeId);
    if (!place) continue;
    const { siteId, kind } = place;
    watches.set(subject, { subject, placeId, siteId, kind, on: watchOf(kind, statements.get(placeId) ?? []) });
  }
  return watches;
}
