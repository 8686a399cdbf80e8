/** Where food goes when nobody says: the site's put-away for how the item is kept. The entry says that it was presumed. */
import { presumedPlaceId, type ItemRow, type SiteRow } from '../catalogue/index.ts';

/** An item that is not known has a place too, so that it takes as many statements to say that it is not. */
export function putAwayOf(site: SiteRow): (item: ItemRow | undefined) => string {
  return (item) => presumedPlaceId(site, item?.storage ?? 'chilled');
}

interface Put {
  readonly lotId: string;
  readonly placeId: string;
  readonly presumed: boolean;
}

/** For the note of an entry: which lots are only presumed to be where it puts them. */
export function presumedNote(puts: readonly Put[]): Record<string, unknown> {
  const presumed = puts.filter((put) => put.presumed).map(({ lotId, placeId }) => ({ lotId, placeId }));
  return presumed.length === 0 ? {} : { presumed };
}
