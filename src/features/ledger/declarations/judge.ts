/**
 * A lot that holds an allergen which its item does not declare: the lot carries it all the same, and the label says it; beside that there is
 * a finding that says which way it came in, and a hold, so that it does not leave before a person has seen the label. The hold blocks
 * leaving and serving, nothing else: hot food is chilled, packed and labelled. Refusals: none.
 *
 * - What is opened, cut or warmed where it is served is never held for it: it is on its way to the plate, and the person who does
 *   it reads the label of what it came from. It is found all the same.
 * - A correction (`late`: 'corrected') holds at the kitchen that made the food and nowhere else: what has gone is on wards, whose
 *   people are told instead.
 * - A hold that a person lifted is placed again only for a code that nobody had found then.
 */
import { allergenGraph, waysIn } from '../../../domain/allergen-paths.ts';
import { allergenLabel, leftUnsaid, unionAllergens } from '../../../domain/allergens.ts';
import { groupBy } from '../../../domain/grouping.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { derivedId } from '../../../platform/ids.ts';
import { clearFindings, openFindings, type FindingDraft } from '../findings-store.ts';
import { insertFollowingHolds, type HoldDraft } from '../holds-store.ts';
import type { LotDraft } from '../lots-store.ts';
import {
  listAllergenLots,
  listBeyondItem,
  listEdgesAmong,
  listHeldForDeclaration,
  listToldUndeclared,
  type DeclaredRow,
} from './store.ts';

export interface Judged {
  readonly tx: Tx;
  readonly actorId: string;
  readonly nowMs: number;
}

/** Lots that a way is looked for through: far more than a kitchen's food goes through; beyond it the finding names no way. */
export const MOST_LOTS = 20_000;
/** Lots of one way that a finding names. */
const MOST_STOPS = 50;

interface Undeclared extends DeclaredRow {
  readonly codes: readonly string[];
  /** the one that is open names it */
  readonly openFactId: string | null;
  readonly settled: boolean;
}

/**
 * Lots that have just been made, with nothing made from them yet. Their edges and entries are written.
 * @param items what they are lots of, by id
 */
export async function judgeBorn(
  judged: Judged,
  lots: readonly Pick<LotDraft, 'lotId' | 'itemId' | 'allergens'>[],
  items: ReadonlyMap<string, { readonly allergens: readonly string[] }>,
): Promise<FindingDraft[]> {
  const some = lots.filter(({ itemId, allergens }) => leftUnsaid(items.get(itemId)?.allergens ?? [], allergens).length);
  if (some.length === 0) return [];
  return judge(
    judged,
    some.map((lot) => lot.lotId),
    'known',
  );
}

/** Allergens have reached lots that exist already, and with them all that was made from those. The gate is held exclusively. */
export const judgeReached = (
  judged: Judged,
  lotIds: readonly string[],
  late: 'known' | 'corrected',
): Promise<FindingDraft[]> => judge(judged, lotIds, late);

async function judge(judged: Judged, lotIds: readonly string[], late: 'known' | 'corrected'): Promise<FindingDraft[]> {
  const { tx, actorId, nowMs } = judged;
  const wanted = await undeclaredAmong(tx, lotIds);
  if (wanted.length === 0) return [];
  const findings = await findingsAgainst(tx, wanted);
  const stale = wanted.filter((lot) => lot.openFactId !== null).map((lot) => lot.lotId);
  await clearFindings(tx, 'allergen-undeclared', stale);
  await openFindings(tx, findings, nowMs);
  const held = new Set(
    await listHeldForDeclaration(
      tx,
      wanted.map((lot) => lot.lotId),
    ),
  );
  const holds = wanted.filter((lot) => !held.has(lot.lotId) && !servedThere(lot)).map((lot) => holdOf(lot, late));
  await insertFollowingHolds(tx, holds, actorId, nowMs);
  return findings;
}

const servedThere = ({ origin, siteKind }: DeclaredRow): boolean => origin === 'converted' && siteKind === 'satellite';

/** Those with a code that was not found against them before. */
async function undeclaredAmong(tx: Tx, lotIds: readonly string[]): Promise<Undeclared[]> {
  const rows = (await listBeyondItem(tx, lotIds)).flatMap((row) => {
    const codes = leftUnsaid(row.declared, row.allergens);
    return codes.length === 0 ? [] : [{ ...row, codes }];
  });
  if (rows.length === 0) return [];
  const lotIdsOf = rows.map((row) => row.lotId);
  const told = groupBy(await listToldUndeclared(tx, lotIdsOf), (one) => one.lotId);
  return rows.flatMap((row) => {
    const own = (told.get(row.lotId) ?? []).filter((one) => one.status !== 'cleared');
    const known = own.flatMap((one) => one.codes);
    if (row.codes.every((code) => known.includes(code))) return [];
    const openFactId = own.find((one) => one.status === 'open')?.factId ?? null;
    return [{ ...row, openFactId, settled: own.some((one) => one.status === 'settled') }];
  });
}

/** One for each lot; a code that comes later is added to the one that is open, and has one of its own when that was settled. */
async function findingsAgainst(tx: Tx, wanted: readonly Undeclared[]): Promise<FindingDraft[]> {
  const ids = wanted.map((lot) => lot.lotId);
  const lots = await listAllergenLots(tx, ids, MOST_LOTS);
  const known = lots.length < MOST_LOTS;
  const edges = known
    ? await listEdgesAmong(
        tx,
        lots.map((lot) => lot.lotId),
      )
    : [];
  const graph = allergenGraph(lots, edges);
  return wanted.map((lot): FindingDraft => {
    const paths = lot.codes.map((allergen) => ({
      allergen,
      lotCodes: known ? (waysIn(graph, lot.lotId, allergen)[0] ?? []).slice(0, MOST_STOPS).map(({ code }) => code) : [],
    }));
    const factId = lot.openFactId ?? (lot.settled ? (tx.factId ?? lot.factId) : lot.factId);
    return {
      kind: 'allergen-undeclared',
      subject: lot.lotId,
      siteId: lot.siteId,
      lotId: lot.lotId,
      quantity: null,
      occurredAtMs: lot.bornAtMs,
      detail: { lotCode: lot.code, itemId: lot.itemId, itemName: lot.itemName, codes: lot.codes, paths, factId },
    };
  });
}

function holdOf({ lotId, siteId, itemName, codes }: Undeclared, late: 'known' | 'corrected'): HoldDraft {
  const everywhere = late === 'known';
  return {
    holdId: derivedId(`declaration-${everywhere ? '' : 'here-'}${unionAllergens([codes]).join('-')}`, lotId),
    kind: 'declaration',
    lotId,
    siteId: everywhere ? null : siteId,
    accountId: null,
    propagates: everywhere,
    note: `It holds ${codes.map(allergenLabel).join(', ')}, which ${itemName} does not declare. See that the label says so before it leaves, and correct the item or the recipe.`,
  };
}
