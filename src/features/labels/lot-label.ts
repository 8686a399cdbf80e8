/**
 * What the label of a lot says: its words in the language of the site, its symbol, and what stands against printing it. Refusals:
 * `item-unsuitable` (not lot-tracked), and those of `labelRefusal`.
 */
import { Refused } from '../../domain/errors.ts';
import { packElements, withSerial, type PackElement } from '../../domain/labels/elements.ts';
import { labelRefusal } from '../../domain/labels/prints.ts';
import { allergenWords, dietWords, fixedWords, heldNote, type LabelLanguage } from '../../domain/labels/words.ts';
import { localDate } from '../../domain/time.ts';
import { formatUseBy } from '../../domain/use-by.ts';
import type { Tx } from '../../platform/db/db.ts';
import { findIngredients, findItems, findSites } from '../catalogue/index.ts';
import { findHoldsReaching, holdBriefs, type LotRow, type ReachingHold } from '../ledger/index.ts';
import { digitalLink, requireLabelElements } from '../../domain/gs1/index.ts';
import { ENGLISH, type Deed, type LabelContent, type LabelWords, type SymbolContent } from './drawing/index.ts';
import { findPacking, type PackingRow } from './queries.ts';
import type { LabelSettings } from './settings/store.ts';

/** The symbol of a lot's labels, without the serial that tells them apart. */
type LotSymbol =
  | { readonly kind: 'gs1datamatrix'; readonly elements: readonly PackElement[] }
  | { readonly kind: 'gs1qrcode'; readonly elements: readonly PackElement[]; readonly domain: string | null }
  | { readonly kind: 'datamatrix'; readonly lotCode: string };

/** One run of labels that differ in their serial only. Kept as it is with a print. */
export interface LotLabels {
  readonly lotId: string;
  readonly label: Omit<LabelContent, 'serial' | 'symbol' | 'words'>;
  readonly symbol: LotSymbol;
  readonly language: LabelLanguage;
  readonly serials: readonly (string | null)[];
  /** null: a quarantine label */
  readonly useByMs: number | null;
}

/** The fixed words as the drawing wants them; names of texture levels are English in every language. */
export function wordsOf(language: LabelLanguage): LabelWords {
  const { doNotSendOut: _sent, onHold: _held, pastUseBy: _past, ...words } = fixedWords(language);
  return { language, ...words, textures: ENGLISH.textures };
}

function symbolContent(symbol: LotSymbol, serial: string | null): SymbolContent {
  if (symbol.kind === 'datamatrix') {
    return { kind: 'datamatrix', text: serial === null ? symbol.lotCode : `${symbol.lotCode}/${serial}` };
  }
  const elements = withSerial(symbol.elements, serial);
  requireLabelElements(elements);
  if (symbol.kind === 'gs1datamatrix') return { kind: 'gs1datamatrix', elements };
  // RFC 3986 5.2.4: whoever opens the address drops such a part of its path, and with it the lot
  if (elements.some(({ value }) => /^\.{1,2}$/.test(value)))
    throw new RangeError('A lot code of dots alone cannot stand in a web address; take the Data Matrix');
  return {
    kind: 'gs1qrcode-digital-link',
    uri: digitalLink(elements, symbol.domain === null ? undefined : `https://${symbol.domain}`),
  };
}

/** One label for each serial, `copies` of each, one after the other. */
export function* labelsOf(runs: readonly LotLabels[], copies: number): Generator<LabelContent> {
  for (const { label, symbol, language, serials } of runs) {
    const words = wordsOf(language);
    for (const serial of serials) {
      const content = { ...label, serial, symbol: symbolContent(symbol, serial), words };
      for (let copy = 0; copy < copies; copy += 1) yield content;
    }
  }
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

function deedOf(lot: LotRow, packing: PackingRow | null): Pick<LabelContent, 'packer' | 'packedOn'> & { deed: Deed } {
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

/**
 * The earliest of the date in force and the date at birth. Dates of parts count: that of the place named, or of any part when none is, for
 * a label that says too late is the worse mistake.
 */
export function endInForce(lot: LotRow, holds: readonly ReachingHold[], placeId: string | undefined): number | null {
  const own = holds.filter((hold) => placeId === undefined || hold.accountId === placeId).map((hold) => hold.useByAtMs);
  const ends = [lot.useByAtMs, lot.printedUseByAt?.getTime() ?? null, ...own].filter((end) => end !== null);
  return ends.length === 0 ? null : Math.min(...ends);
}

/** Nominal grams of one pack where they come out whole; a weight is printed exactly or not at all. */
function netWeightG(lot: LotRow): number | null {
  const g = lot.massMg / lot.quantity / 1000;
  return lot.unit === 'piece' && lot.massMg % (lot.quantity * 1000) === 0 ? g : null;
}

/** A trade item number stands only on packs of our own: that of what was bought belongs with its supplier's lot, not with ours. */
const carriesGtin = (lot: LotRow): boolean =>
  lot.unit === 'piece' && (lot.origin === 'packed' || lot.origin === 'converted');

function quarantineNote(language: LabelLanguage, kinds: ReadonlySet<string>, past: boolean): string {
  const why = [heldNote(language, kinds), past ? fixedWords(language).pastUseBy : null].filter((one) => one !== null);
  return why.length === 0 ? fixedWords(language).doNotUse : why.join('. ');
}

export interface LabelWish {
  readonly settings: LabelSettings;
  readonly serials: readonly (string | null)[];
  /** where the packs stand: the date in force there */
  readonly placeId?: string | undefined;
  readonly quarantine: boolean;
}

/** @throws Refused where no such label may be made */
export async function lotLabels(tx: Tx, lot: LotRow, wish: LabelWish, nowMs: number): Promise<LotLabels> {
  if (lot.origin === 'pseudo') {
    throw new Refused('item-unsuitable', `${lot.itemName} is not lot-tracked; it has no label.`);
  }
  const { settings, quarantine } = wish;
  const { language } = settings;
  const holds = (await findHoldsReaching(tx, [lot.lotId], nowMs)).filter((hold) => hold.liftedAt === null);
  const briefs = holdBriefs(holds);
  const useByMs = endInForce(lot, holds, wish.placeId);
  const refused = labelRefusal({ lotCode: lot.code, holds: briefs, useByMs }, quarantine, nowMs);
  if (refused) throw refused;
  const packing = lot.packingRunId === null ? null : await findPacking(tx, lot.packingRunId);
  const site = (await findSites(tx, [lot.siteId])).get(lot.siteId);
  const item = (await findItems(tx, [lot.itemId])).get(lot.itemId);
  // Nobody eats what is in quarantine: its label has room for what it holds, not for its list.
  const ingredients = quarantine ? null : await findIngredients(tx, lot.itemId, lot.bornAt);
  const kinds = new Set(briefs.map((hold) => hold.kind));
  const weightG = netWeightG(lot);
  const zone = lot.siteTimeZone;
  const useBy = useByMs === null ? null : { endsAtMs: useByMs, zone };
  const past = useByMs !== null && nowMs >= useByMs;
  const frozenAt = lot.storage === 'frozen' ? lot.anchors.frozenAt : undefined;
  const { address } = site ?? {};
  const reached = [address?.street, address?.postalCode, address?.city].filter((part) => part !== undefined).join(', ');
  return {
    lotId: lot.lotId,
    language,
    serials: wish.serials,
    useByMs: quarantine ? null : useByMs,
    symbol: symbolOf(lot, item?.gtin ?? null, settings, { useBy: quarantine ? null : useBy, weightG }),
    label: {
      dish: lot.itemName,
      ...deedOf(lot, packing),
      // A quarantine label shows no date; the drawing leaves it out, and wants a date all the same.
      useBy: formatUseBy(useByMs ?? nowMs, zone),
      storageInstruction: lot.storageInstruction,
      allergens: allergenWords(language, lot.allergens),
      mayContain: allergenWords(language, lot.mayContain),
      lotCode: lot.code,
      netWeightG: weightG,
      siteName: site?.name ?? '',
      // Whoever sells it over a counter has to say where the maker is reached.
      siteAddress: ingredients === null || reached === '' ? null : reached,
      ingredients,
      // The list may be written in English where the labels are not; its allergens stand out all the same.
      emphasised: allergenWords('en', lot.allergens),
      textureLevel: item?.textureLevel ?? null,
      diets: dietWords(language, item?.dietCodes ?? []),
      frozenOn: frozenAt === undefined ? null : localDate(frozenAt, zone),
      handling: lot.handling,
      heldNote: quarantine ? quarantineNote(language, kinds, past) : heldNote(language, kinds),
      quarantine,
    },
  };
}

function symbolOf(
  lot: LotRow,
  gtin: string | null,
  settings: LabelSettings,
  { useBy, weightG }: { useBy: { endsAtMs: number; zone: string } | null; weightG: number | null },
): LotSymbol {
  if (gtin === null || !carriesGtin(lot)) return { kind: 'datamatrix', lotCode: lot.code };
  const weighedSingly = lot.quantity === 1 ? weightG : null;
  const elements = packElements({ gtin, useBy, netWeightG: weighedSingly, lotCode: lot.code });
  return settings.symbol === 'gs1datamatrix'
    ? { kind: 'gs1datamatrix', elements }
    : { kind: 'gs1qrcode', elements, domain: settings.digitalLinkDomain };
}
