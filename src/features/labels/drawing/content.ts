/** What a label says, before anybody has thought about how it looks. Texts are as printed; dates are the site's. */
import type { Deed, LabelWords } from './words.ts';

/** One element of a GS1 string, as in `{ ai: '10', value: 'STEW-7' }`. */
export interface LabelElement {
  readonly ai: string;
  readonly value: string;
}

/**
 * What the barcode holds. GS1 symbols hold element strings; the Digital Link is a plain QR Code with a web address, which any
 * telephone opens; `datamatrix` holds plain text, LOT or LOT/SERIAL, where the item has no trade item number.
 */
export type SymbolContent =
  | { readonly kind: 'gs1datamatrix' | 'gs1qrcode'; readonly elements: readonly LabelElement[] }
  | { readonly kind: 'gs1qrcode-digital-link'; readonly uri: string }
  | { readonly kind: 'datamatrix'; readonly text: string };

/** What one pack label says. Everything that may be left out is left out of the print. */
export interface LabelContent {
  readonly dish: string;
  /** Null where nobody packed: food that was made, or bought. */
  readonly packer: string | null;
  /** What happened on `packedOn`; Packed if left out. */
  readonly deed?: Deed;
  /** YYYY-MM-DD. */
  readonly packedOn: string;
  /** `2026-11-29`, or with a time, `2026-11-29 14:30`; whatever follows the time is printed after it. */
  readonly useBy: string;
  readonly storageInstruction: string;
  /** Words to print, in the order to print them. */
  readonly allergens: readonly string[];
  readonly mayContain: readonly string[];
  readonly lotCode: string;
  readonly serial: string | null;
  /** Whole grams, above zero; null when no weight is declared. */
  readonly netWeightG: number | null;
  readonly siteName: string;
  readonly handling: 'raw' | 'ready-to-eat';
  /** Words for a hold in force at printing, or null. */
  readonly heldNote: string | null;
  /** One line under which the maker is reached: needed on packs sold over a counter. */
  readonly siteAddress?: string | null;
  /**
   * The list of ingredients of a pack sold over a counter, in descending order of weight. Words of `emphasised` in it are printed
   * bold; the allergens of `allergens` always are. An allergen that the list does not name stands behind it under Contains.
   */
  readonly ingredients?: string | null;
  /** Further words to print bold within the ingredients: `milk` beside the allergen `Milk (including lactose)`. */
  readonly emphasised?: readonly string[];
  /** IDDSI level 0 to 7 of the item, printed large; null when none is declared. */
  readonly textureLevel?: number | null;
  /** Names of diets that the item suits, printed large. */
  readonly diets?: readonly string[];
  /** YYYY-MM-DD on which the food was frozen, or null. */
  readonly frozenOn?: string | null;
  /** The label of food that nobody may use: it says so in place of the use-by. */
  readonly quarantine?: boolean;
  /** Fixed words in the language of the site; English if left out. */
  readonly words?: LabelWords;
  /** LOT or LOT/SERIAL in a Data Matrix if left out. */
  readonly symbol?: SymbolContent;
}

/** One line of what is in a crate. */
export interface CrateLine {
  readonly itemName: string;
  readonly lotCode: string;
  /** As printed, unit included: `12 packs`, `4.250 kg`. */
  readonly quantity: string;
  /** YYYY-MM-DD, time and zone as in a pack's `useBy`; null when the lot has none. */
  readonly useBy: string | null;
}

/** What the label of a crate, roll cage or pallet says. */
export interface CrateLabelContent {
  /** 18 digits with their check digit. */
  readonly sscc: string;
  /** Kind of box, as in `Insulated crate, 60 x 40`. */
  readonly boxType: string | null;
  readonly fromName: string;
  readonly toName: string | null;
  readonly toAddress?: string | null;
  readonly dispatchCode: string | null;
  /** YYYY-MM-DD or with a time: the earliest in the crate. */
  readonly earliestUseBy: string | null;
  /** Coldest words that hold for everything in it: `Keep at 3 °C or below`. */
  readonly storageInstruction: string | null;
  readonly heldNote: string | null;
  readonly lines: readonly CrateLine[];
  /** Crates inside this one, by their SSCC. */
  readonly innerSsccs?: readonly string[];
  readonly words?: LabelWords;
}
