/**
 * Printing the labels of a lot. Refusals: `not-found`, `serials-do-not-fit`, `on-hold` (rejected food gets no label),
 * `item-unsuitable` (not lot-tracked), `rule-broken` (too many at once, no use-by, words that do not fit).
 */
import holdTable from '../../../shared/holds.json' with { type: 'json' };
import { allergenLabel, unionAllergens } from '../../domain/allergens.ts';
import { Refused } from '../../domain/errors.ts';
import { localDate } from '../../domain/time.ts';
import { formatUseBy } from '../../domain/use-by.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { findSites } from '../catalogue/index.ts';
import { findHoldsReaching, getVisibleLot, holdBriefs, type LotRow, type ReachingHold } from '../ledger/index.ts';
import type { printLotLabels } from './contract.ts';
import { renderPackLabels, type Deed, type PackLabel } from './pack-label.ts';
import { findPacking, type PackingRow } from './queries.ts';
import { serialsToPrint } from './serials.ts';

/**
 * The earliest of the date in force and the date at birth, as people at the site read it. Dates of parts count: that of the place named,
 * or of any part when none is, for a label that says too late is the worse mistake.
 */
function useByText(lot: LotRow, holds: readonly ReachingHold[], placeId: string | undefined): string {
  const own = holds.filter((hold) => placeId === undefined || hold.accountId === placeId).map((hold) => hold.useByAtMs);
  const ends = [lot.useByAtMs, lot.printedUseByAt?.getTime() ?? null, ...own].filter((end) => end !== null);
  if (ends.length === 0) throw new Refused('rule-broken', `Lot ${lot.code} has no use-by to print.`);
  return formatUseBy(Math.min(...ends), lot.siteTimeZone);
}

/** The gravest first: the shared list goes from waiting to rejected. */
function heldNote(holds: readonly ReachingHold[]): string | null {
  const kinds = new Set(holdBriefs(holds).map((hold) => hold.kind));
  if (kinds.size === 0) return null;
  if (kinds.size === 1 && kinds.has('awaiting-release')) return 'Awaiting release: do not send out';
  const labels = holdTable.kinds.filter((kind) => kinds.has(kind.code)).map((kind) => kind.label);
  return `ON HOLD: ${labels.reverse().join(', ')}`;
}

/** Nominal grams of one pack where they come out whole; a weight is printed exactly or not at all. */
function netWeightG(lot: LotRow): number | null {
  const g = lot.massMg / lot.quantity / 1000;
  return lot.unit === 'piece' && lot.massMg % (lot.quantity * 1000) === 0 ? g : null;
}

/** What was done at the site, by the kind of conversion that the lot was born with. */
const CONVERTED = {
  open: 'Opened',
  decant: 'Decanted',
  portion: 'Portioned',
  regenerate: 'Regenerated',
  cook: 'Cooked',
  freeze: 'Frozen',
  thaw: 'Thawed',
  sample: 'Sample taken',
} as const satisfies Record<string, Deed>;

function deedOf(lot: LotRow, packing: PackingRow | null): Pick<PackLabel, 'deed' | 'packer' | 'packedOn'> {
  const zone = lot.siteTimeZone;
  if (packing) {
    const packedOn = localDate(packing.finishedAt.getTime(), zone);
    return { deed: 'Packed', packer: packing.packerName, packedOn };
  }
  const { conversion } = (lot.useByBasis ?? {}) as { readonly conversion?: keyof typeof CONVERTED };
  const made = lot.origin === 'supplied' ? 'Received' : lot.origin === 'opening' ? 'In stock' : 'Made';
  const deed = lot.origin === 'converted' && conversion !== undefined ? CONVERTED[conversion] : made;
  return { deed, packer: null, packedOn: localDate(lot.bornAt.getTime(), zone) };
}

const words = (codes: readonly string[]): string[] => unionAllergens([codes]).map(allergenLabel);

export async function printLabels(context: Context<typeof printLotLabels>): Promise<Reply> {
  const { tx, scope, params, query, nowMs } = context;
  const lot = await getVisibleLot(tx, scope, params.lotId);
  if (lot.origin === 'pseudo') {
    throw new Refused('item-unsuitable', `${lot.itemName} is not lot-tracked; it has no label.`);
  }
  const holds = (await findHoldsReaching(tx, [lot.lotId], nowMs)).filter((hold) => hold.liftedAt === null);
  const rejected = holds.filter((hold) => hold.kind === 'rejected');
  if (rejected.length > 0) {
    const members = { holds: rejected.map(({ holdId, kind, rootLotId }) => ({ holdId, kind, rootLotId })) };
    throw new Refused('on-hold', `Lot ${lot.code} is rejected; no label is printed for it.`, { members });
  }
  const serials = serialsToPrint(query.serials, lot);
  const packing = lot.packingRunId === null ? null : await findPacking(tx, lot.packingRunId);
  const site = (await findSites(tx, [lot.siteId])).get(lot.siteId);
  const label: Omit<PackLabel, 'serial'> = {
    dish: lot.itemName,
    ...deedOf(lot, packing),
    useBy: useByText(lot, holds, query.placeId),
    storageInstruction: lot.storageInstruction,
    allergens: words(lot.allergens),
    mayContain: words(lot.mayContain),
    lotCode: lot.code,
    netWeightG: netWeightG(lot),
    siteName: site?.name ?? '',
    handling: lot.handling,
    heldNote: heldNote(holds),
  };
  const data = await render(serials.map((serial) => ({ ...label, serial })));
  const filename = `label-${lot.code.replaceAll(/[^A-Za-z0-9._-]/g, '_')}.pdf`;
  return {
    status: 200,
    raw: { contentType: 'application/pdf', data },
    headers: { 'Content-Disposition': `inline; filename="${filename}"` },
  };
}

async function render(labels: PackLabel[]): Promise<Buffer> {
  try {
    return await renderPackLabels(labels);
  } catch (error) {
    if (error instanceof RangeError) throw new Refused('rule-broken', `${error.message}.`);
    throw error;
  }
}
