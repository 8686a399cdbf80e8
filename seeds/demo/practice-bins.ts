/** A bin in the dry store that is topped up from sacks. */
import { as, type Door } from './door.ts';
import { ck } from './story.ts';

export async function addBins(door: Door): Promise<void> {
  const bin = { siteId: ck(), code: 'BIN-1', name: 'Flour bin', kind: 'ambient-store', bin: true };
  await door.post(as('operations'), '/v1/places', 'place/ck-bin', bin);
}
