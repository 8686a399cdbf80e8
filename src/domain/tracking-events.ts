/**
 * Tracking events: what a posting is called, which section of the law wants it on record, and which of the key data elements it lacks. Pure.
 *
 * Sources: 21 CFR 1.1340(a) shipping, 1.1345(a) receiving, 1.1350(a) transformation, 1.1310 (location and product description);
 * Regulation (EU) 931/2011 Art. 3(1). The paragraph numbers of 1.1350(a) are from memory. What the law asks for and nobody recorded
 * stays empty and is counted; nothing is made up.
 */
export type EventKind =
  | 'goods-in'
  | 'opening-stock'
  | 'batch-input'
  | 'batch-output'
  | 'packing-input'
  | 'packing-output'
  | 'conversion-input'
  | 'conversion-output'
  | 'departure'
  | 'receipt'
  | 'refused-at-door'
  | 'use'
  | 'use-by-count'
  | 'discard'
  | 'return-to-supplier'
  | 'return-from-service'
  | 'count-missing'
  | 'count-found';

export type CriticalTrackingEvent = 'shipping' | 'receiving' | 'transformation';

export const CRITICAL: Readonly<Record<EventKind, CriticalTrackingEvent | null>> = {
  'goods-in': 'receiving',
  'opening-stock': null,
  'batch-input': 'transformation',
  'batch-output': 'transformation',
  'packing-input': 'transformation',
  'packing-output': 'transformation',
  'conversion-input': 'transformation',
  'conversion-output': 'transformation',
  departure: 'shipping',
  receipt: 'receiving',
  'refused-at-door': null,
  use: null,
  'use-by-count': null,
  discard: null,
  'return-to-supplier': null,
  'return-from-service': null,
  'count-missing': null,
  'count-found': null,
};

/** Which end of a transformation it is. */
export function roleOf(kind: EventKind): 'input' | 'output' | null {
  if (kind.endsWith('-input')) return 'input';
  return kind.endsWith('-output') ? 'output' : null;
}

/**
 * @param entry kind of the entry
 * @param from, to kinds of account, without their shortfall twins; of a count: place and where its difference went
 * @param signed below zero when a count found more than was booked
 */
export function eventKindOf(entry: string, from: string, to: string, signed: number): EventKind {
  if (entry === 'stock-count') {
    if (to === 'served') return 'use-by-count';
    return signed < 0 ? 'count-found' : 'count-missing';
  }
  if (entry === 'batch-input' || entry === 'batch-output') return entry;
  if (entry === 'packing' || entry === 'conversion') {
    return to === 'consumed' ? `${entry}-input` : `${entry}-output`;
  }
  if (entry === 'dispatch') return from === 'transit' ? 'refused-at-door' : 'departure';
  if (entry === 'return') return to === 'supplier' ? 'return-to-supplier' : 'return-from-service';
  if (entry === 'goods-receipt') return 'goods-in';
  return entry as 'opening-stock' | 'receipt' | 'use' | 'discard';
}

export interface AddressParts {
  readonly businessName?: string | undefined;
  readonly phone?: string | undefined;
  readonly street?: string | undefined;
  readonly city?: string | undefined;
  readonly region?: string | undefined;
  readonly postalCode?: string | undefined;
  readonly country?: string | undefined;
  readonly latitude?: number | undefined;
  readonly longitude?: number | undefined;
}

/** A location description in one line, in the order of 21 CFR 1.1310; what is not known is left out. */
export function describeLocation(name: string, address: AddressParts | null): string {
  const parts = address ?? {};
  const coordinates =
    parts.latitude !== undefined && parts.longitude !== undefined ? `${parts.latitude}, ${parts.longitude}` : undefined;
  return [
    parts.businessName === undefined || parts.businessName === name ? name : `${parts.businessName} (${name})`,
    parts.phone,
    parts.street ?? coordinates,
    parts.city,
    parts.region,
    parts.postalCode,
    parts.country,
  ]
    .filter((part) => part !== undefined && part !== '')
    .join('; ');
}

/** What a location description lacks. A state is asked for in the United States only; abroad, what compares to it (1.1310). */
export function missingParts(address: AddressParts | null): string[] {
  const { phone, street, latitude, longitude, city, region, postalCode, country } = address ?? {};
  const placed = street !== undefined || (latitude !== undefined && longitude !== undefined);
  return [
    ...(phone === undefined ? ['phone'] : []),
    ...(placed ? [] : ['street']),
    ...(city === undefined ? ['city'] : []),
    ...(country === 'US' && region === undefined ? ['region'] : []),
    ...(postalCode === undefined ? ['postalCode'] : []),
    ...(country === undefined ? ['country'] : []),
  ];
}

/** The key data elements of an event, as far as they are known; locations by what they lack, null where there is none at all. */
export interface Elements {
  readonly kind: EventKind;
  readonly packSize: string | null;
  readonly packStyle: string | null;
  readonly location: readonly string[];
  readonly tlcSource: readonly string[];
  readonly previousSource: readonly string[] | null;
  readonly recipient: readonly string[] | null;
  readonly referenceDocumentType: string | null;
  readonly referenceDocumentNumber: string | null;
  readonly dispatchedOn: string | null;
  /** of an output: how many lots are known to have gone into it */
  readonly inputCount: number;
}

export interface Missing {
  /** as in the answer: `packSize`, `previousSource`, `inputs` */
  readonly element: string;
  /** of a location: `phone`, `street` ...; null: all of it */
  readonly part: string | null;
  readonly law: string;
}

const EU = '(EU) 931/2011 Art. 3(1)';

const SECTIONS = {
  shipping: {
    section: '21 CFR 1.1340(a)',
    product: '(3)',
    location: ['(5)', '(c)'],
    recipient: ['(4)', '(e)'],
    previousSource: null,
    tlcSource: '(7)',
    document: '(8)',
  },
  receiving: {
    section: '21 CFR 1.1345(a)',
    product: '(3)',
    location: ['(5)', '(e)'],
    recipient: null,
    previousSource: ['(4)', '(c)'],
    tlcSource: '(7)',
    document: '(8)',
  },
} as const;

const product = (elements: Elements, law: string): Missing[] => [
  ...(elements.packSize === null ? [{ element: 'packSize', part: null, law }] : []),
  ...(elements.packStyle === null ? [{ element: 'packStyle', part: null, law }] : []),
];

const document = (elements: Elements, law: string): Missing[] => [
  ...(elements.referenceDocumentType === null ? [{ element: 'referenceDocumentType', part: null, law }] : []),
  ...(elements.referenceDocumentNumber === null ? [{ element: 'referenceDocumentNumber', part: null, law }] : []),
];

function location(element: string, lacks: readonly string[] | null, law: string): Missing[] {
  if (lacks === null) return [{ element, part: null, law }];
  return lacks.map((part) => ({ element, part, law }));
}

/** Lot code, quantity, unit, product name, date and the places themselves are always there: the ledger takes no entry without. */
export function missingOf(elements: Elements): Missing[] {
  const critical = CRITICAL[elements.kind];
  if (critical === null) return [];
  if (critical === 'transformation') {
    if (roleOf(elements.kind) === 'input') return product(elements, '21 CFR 1.1350(a)(1)');
    const law = '21 CFR 1.1350(a)(2)';
    return [
      ...product(elements, law),
      ...location('location', elements.location, law),
      ...document(elements, law),
      ...(elements.inputCount === 0 ? [{ element: 'inputs', part: null, law: '21 CFR 1.1350(a)(1)' }] : []),
    ];
  }
  const { section, ...at } = SECTIONS[critical];
  const both = ([ours, eu]: readonly [string, string]) => `${section}${ours}; ${EU}${eu}`;
  return [
    ...product(elements, `${section}${at.product}`),
    ...location('location', elements.location, both(at.location)),
    ...(at.previousSource ? location('previousSource', elements.previousSource, both(at.previousSource)) : []),
    ...(at.recipient ? location('recipient', elements.recipient, both(at.recipient)) : []),
    ...location('tlcSource', elements.tlcSource, `${section}${at.tlcSource}`),
    ...document(elements, `${section}${at.document}`),
    ...(elements.dispatchedOn === null ? [{ element: 'dispatchedOn', part: null, law: `${EU}(h)` }] : []),
  ];
}

/** Grams as people write them: 300 g, 2.5 kg. */
function massText(mg: number): string {
  if (mg >= 1_000_000) return `${mg / 1_000_000} kg`;
  return mg >= 1000 ? `${mg / 1000} g` : `${mg} mg`;
}

export interface Described {
  readonly itemKind: string;
  readonly unit: string;
  readonly netWeightMg: number;
  readonly origin: string;
  /** as the delivery was counted: sack, tray, case of 12 */
  readonly entryUnit: string | null;
  /** of the item's own unit, in one of them */
  readonly perEntryUnit: number | null;
}

/** Pack size and pack style (21 CFR 1.1310, product description); null where nobody said. */
export function packOf(lot: Described): { packSize: string | null; packStyle: string | null } {
  if (lot.itemKind === 'packed') return { packSize: massText(lot.netWeightMg), packStyle: 'vacuum pack' };
  if (lot.entryUnit !== null) {
    const size = lot.perEntryUnit === null ? null : `${lot.perEntryUnit} ${lot.unit}`;
    return { packSize: size, packStyle: lot.entryUnit };
  }
  if (lot.unit === 'piece') return { packSize: massText(lot.netWeightMg), packStyle: null };
  // What the kitchen made and keeps by weight lies loose in its own containers.
  const loose = lot.origin === 'produced' || lot.origin === 'converted';
  return loose ? { packSize: 'by weight', packStyle: 'bulk' } : { packSize: null, packStyle: null };
}
