/**
 * The fixed words of a label. English here; other languages are data of the same shape. `use by`, `frozen on` and the words of the
 * ingredient list follow Regulation (EU) No 1169/2011 (Annex X and Art. 18 and 21, numbers from memory); the names of texture levels
 * are those of the shared list of diets and textures.
 */
import diets from '../../../../shared/diets.json' with { type: 'json' };

export type Deed =
  | 'Packed'
  | 'Made'
  | 'Received'
  | 'In stock'
  | 'Opened'
  | 'Decanted'
  | 'Portioned'
  | 'Regenerated'
  | 'Cooked'
  | 'Frozen'
  | 'Thawed'
  | 'Sample taken';

export interface LabelWords {
  /** BCP 47, for the names of months: `en`, `fr`, `pl`. */
  readonly language: string;
  /** Heading of the date, in capitals: USE BY. */
  readonly useBy: string;
  readonly frozenOn: string;
  /** Before a list of words; the colon is part of it. */
  readonly contains: string;
  readonly ingredients: string;
  readonly allergens: string;
  readonly noneRecorded: string;
  readonly mayContain: string;
  readonly lot: string;
  readonly serial: string;
  readonly deeds: Readonly<Record<Deed, string>>;
  /** Between the date and the person: `by` in `Packed 25 NOV 2026 by Jo Marsh`. */
  readonly by: string;
  readonly raw: string;
  readonly readyToEat: string;
  readonly quarantine: string;
  readonly doNotUse: string;
  /** Eight names, level 0 first. */
  readonly textures: readonly string[];
  readonly crate: {
    readonly from: string;
    readonly to: string;
    readonly dispatch: string;
    readonly earliestUseBy: string;
    readonly contents: string;
    /** `{n}` stands for how many: `and {n} more` */
    readonly more: string;
    readonly holds: string;
  };
}

export const ENGLISH: LabelWords = {
  language: 'en',
  useBy: 'USE BY',
  frozenOn: 'Frozen on',
  contains: 'Contains:',
  ingredients: 'Ingredients:',
  allergens: 'Allergens:',
  noneRecorded: 'none recorded',
  mayContain: 'May contain:',
  lot: 'Lot',
  serial: 'Serial',
  deeds: {
    Packed: 'Packed',
    Made: 'Made',
    Received: 'Received',
    'In stock': 'In stock',
    Opened: 'Opened',
    Decanted: 'Decanted',
    Portioned: 'Portioned',
    Regenerated: 'Regenerated',
    Cooked: 'Cooked',
    Frozen: 'Frozen',
    Thawed: 'Thawed',
    'Sample taken': 'Sample taken',
  },
  by: 'by',
  raw: 'RAW',
  readyToEat: 'READY TO EAT',
  quarantine: 'QUARANTINE',
  doNotUse: 'DO NOT USE',
  textures: diets.textures.list.map(({ label }) => label),
  crate: {
    from: 'From',
    to: 'To',
    dispatch: 'Dispatch',
    earliestUseBy: 'EARLIEST USE BY',
    contents: 'Contents',
    more: 'and {n} more, see the dispatch',
    holds: 'Holds {n} crates',
  },
};
