/** What shared something with a set of lots. Offered, never added. Refusals: none. */
import { nearlySameCode, codeKey } from '../../../domain/sideways.ts';
import { utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listLikelySwapRows } from '../../ledger/index.ts';
import { findLotBriefs } from '../queries.ts';
import type { Draft, Found } from './found.ts';
import { machineSuggestions } from './machines.ts';
import { suggestionKinds, type SuggestionAnswer, type SuggestionKind } from './shapes.ts';
import {
  listDeliveries,
  listLotsInPlaces,
  listStays,
  listSupplierCodes,
  listWarmDispatches,
  type PlaceWindow,
} from './store.ts';

export interface Suggestions {
  readonly suggestions: SuggestionAnswer[];
  readonly cutShort: SuggestionKind[];
}

/** Of each kind; and rows read for it. */
const MOST_OF_A_KIND = 20;
const MOST_ROWS = 5_000;
const SHOWN_LOTS = 50;
/** Places of more lots than this are not looked at: a staple stood everywhere. */
const MOST_LOTS_FOR_PLACES = 5_000;
/** How far back counts are looked at for swaps. */
const SWAP_WINDOW_MS = 30 * 86_400_000;
const MOST_SWAPS = 500;

export const SIDEWAYS_ASSUMPTIONS: readonly string[] = [
  'There are no temperature readings yet: a place or a van is taken as too warm when goods were found too warm on arrival.',
  'A packer’s shift ends with a pause of eleven hours (Directive 2003/88/EC Article 3, from memory).',
  'Without a full clean-down on record a machine is looked at for three days before and after (common practice).',
  'Likely swaps are those that counts of the last 30 days show.',
];

/**
 * @param lotIds the scope
 * @param options.places look at every place where the food stood, not only where goods came in too warm
 */
export async function suggestionsFor(
  tx: Tx,
  lotIds: readonly string[],
  nowMs: number,
  options: { readonly places?: boolean } = {},
): Promise<Suggestions> {
  const scope = new Set(lotIds);
  const found: Found[] = [
    await machineSuggestions(tx, lotIds),
    await warmDispatchSuggestions(tx, lotIds),
    await placeSuggestions(tx, lotIds, nowMs, options.places ?? false),
    await swapSuggestions(tx, scope, nowMs),
    await codeSuggestions(tx, lotIds),
    await deliverySuggestions(tx, lotIds),
  ];
  const adding = found
    .flatMap((one) => one.drafts)
    .map((draft) => ({ ...draft, lotIds: [...new Set(draft.lotIds)].filter((lotId) => !scope.has(lotId)) }))
    .filter((draft) => draft.lotIds.length > 0);
  const cut = new Set(found.flatMap((one) => one.cutShort));
  const kept = suggestionKinds.flatMap((kind) => {
    const own = adding.filter((draft) => draft.kind === kind);
    if (own.length > MOST_OF_A_KIND) cut.add(kind);
    return own.slice(0, MOST_OF_A_KIND);
  });
  const shown = kept.flatMap((draft) => draft.lotIds.slice(0, SHOWN_LOTS));
  const briefs = await findLotBriefs(tx, [...new Set(shown)]);
  const suggestions = kept.map(({ kind, whyText, lotIds: added, start }) => ({
    kind,
    whyText,
    lotCount: added.length,
    lots: added.slice(0, SHOWN_LOTS).flatMap((lotId) => {
      const lot = briefs.get(lotId);
      return lot ? [{ ...lot, bornAt: lot.bornAt.toISOString() }] : [];
    }),
    start,
  }));
  return { suggestions, cutShort: suggestionKinds.filter((kind) => cut.has(kind)) };
}

async function warmDispatchSuggestions(tx: Tx, lotIds: readonly string[]): Promise<Found> {
  const rows = await listWarmDispatches(tx, lotIds, MOST_OF_A_KIND + 1);
  const drafts = rows.map(({ dispatchId, code, toSiteName, lotIds: carried }): Draft => ({
    kind: 'warm-dispatch',
    whyText: `On the road to ${toSiteName} with food in scope, on dispatch ${code}, from which something arrived too warm.`,
    lotIds: carried,
    start: { kind: 'dispatch', dispatchId },
  }));
  return { drafts, cutShort: [] };
}

async function placeSuggestions(tx: Tx, lotIds: readonly string[], nowMs: number, all: boolean): Promise<Found> {
  if (lotIds.length > MOST_LOTS_FOR_PLACES) return { drafts: [], cutShort: ['same-place'] };
  const stays = (await listStays(tx, lotIds, MOST_ROWS)).filter((stay) => all || stay.warmAtMs !== null);
  const looked = stays.slice(0, MOST_OF_A_KIND).map((stay) => {
    const fromMs = stay.warmAtMs !== null && !all ? stay.warmAtMs : stay.fromMs;
    // To, and no longer: the end is not part of a period.
    return { ...stay, fromMs, toMs: Math.max(stay.toMs ?? nowMs, fromMs) + 1 };
  });
  const windows = looked.map(({ placeId, fromMs, toMs }): PlaceWindow => ({ placeId, fromMs, toMs }));
  const rows = await listLotsInPlaces(tx, windows, MOST_ROWS + 1);
  const drafts = looked.map(({ placeId, placeName, siteName, fromMs, toMs, warmAtMs }, at): Draft => {
    const warm = warmAtMs === null ? '' : ' and goods came into it too warm meanwhile';
    return {
      kind: 'same-place',
      whyText: `Stood in ${placeName} at ${siteName} while food in scope stood there${warm}.`,
      lotIds: rows.slice(0, MOST_ROWS).flatMap((row) => (row.at === at ? [row.lotId] : [])),
      start: { kind: 'place-period', placeId, from: utc(fromMs), to: utc(toMs) },
    };
  });
  const cut = stays.length > MOST_OF_A_KIND || rows.length > MOST_ROWS;
  return { drafts, cutShort: cut ? ['same-place'] : [] };
}

async function swapSuggestions(tx: Tx, scope: ReadonlySet<string>, nowMs: number): Promise<Found> {
  const everywhere = { all: true, siteIds: [], includes: () => true };
  const page = { limit: MOST_SWAPS, after: null };
  const rows = await listLikelySwapRows(tx, everywhere, null, nowMs - SWAP_WINDOW_MS, page);
  const drafts = rows.slice(0, MOST_SWAPS).flatMap(({ short, surplus, placeName, itemName }): Draft[] => {
    const [one, other] = scope.has(short.lotId) ? [short, surplus] : [surplus, short];
    if (!scope.has(one.lotId) || scope.has(other.lotId)) return [];
    const whyText =
      `${itemName} at ${placeName}: lot ${short.lotCode} is short by ${short.quantity} and lot ${surplus.lotCode} is over by ` +
      `${surplus.quantity}, so lot ${other.lotCode} was likely taken for lot ${one.lotCode} or the other way round.`;
    return [
      { kind: 'likely-swap', whyText, lotIds: [other.lotId], start: { kind: 'likely-swap', lotId: other.lotId } },
    ];
  });
  return { drafts, cutShort: rows.length > MOST_SWAPS ? ['likely-swap'] : [] };
}

async function codeSuggestions(tx: Tx, lotIds: readonly string[]): Promise<Found> {
  const rows = await listSupplierCodes(tx, lotIds, MOST_ROWS + 1);
  const mine = rows.filter((row) => row.inScope);
  const drafts = rows.flatMap((row): Draft[] => {
    const like = mine.find(
      (one) => one.supplierId === row.supplierId && nearlySameCode(one.supplierLotCode, row.supplierLotCode),
    );
    if (!like) return [];
    const same = codeKey(like.supplierLotCode) === codeKey(row.supplierLotCode);
    const whyText = same
      ? `Also from ${row.supplierName} with the code ${row.supplierLotCode}.`
      : `From ${row.supplierName} with the code ${row.supplierLotCode}, which may be ${like.supplierLotCode} written differently.`;
    const { supplierId, supplierLotCode } = row;
    return [
      {
        kind: 'supplier-code',
        whyText,
        lotIds: row.lotIds,
        start: { kind: 'supplier-lot', supplierId, supplierLotCode },
      },
    ];
  });
  return { drafts, cutShort: rows.length > MOST_ROWS ? ['supplier-code'] : [] };
}

async function deliverySuggestions(tx: Tx, lotIds: readonly string[]): Promise<Found> {
  const rows = await listDeliveries(tx, lotIds, MOST_OF_A_KIND * 5 + 1);
  const scope = new Set(lotIds);
  const drafts = rows.flatMap(({ supplierId, supplierName, occurredAt, documentNumber, lotIds: brought }): Draft[] => {
    const note = documentNumber === null ? '' : ` (${documentNumber})`;
    const whyText = `Came on the same delivery of ${supplierName}${note} as a lot in scope.`;
    const kind = 'same-delivery' as const;
    const atMs = occurredAt.getTime();
    if (supplierId !== null) {
      const period = { from: utc(atMs), to: utc(atMs + 1) };
      return [{ kind, whyText, lotIds: brought, start: { kind: 'supplier-period', supplierId, ...period } }];
    }
    // A shop is no supplier of the group's: lot by lot.
    return brought.flatMap((lotId): Draft[] =>
      scope.has(lotId) ? [] : [{ kind, whyText, lotIds: [lotId], start: { kind: 'lot', lotId } }],
    );
  });
  return { drafts, cutShort: rows.length > MOST_OF_A_KIND * 5 ? ['same-delivery'] : [] };
}
