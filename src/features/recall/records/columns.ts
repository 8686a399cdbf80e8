/** Columns of the spreadsheet and what they mean: the glossary that 21 CFR 1.1455 asks for. Codes are in words of the house. */
import { CRITICAL, roleOf } from '../../../domain/tracking-events.ts';
import type { CellValue, SheetColumn } from '../../../platform/spreadsheet/xlsx.ts';
import { missingNames } from './answer.ts';
import type { TrackedEvent } from './events.ts';

interface EventColumn extends SheetColumn {
  readonly meaning: string;
  readonly law: string;
  /** times as milliseconds, dates as text; both formats make of them what they need */
  readonly value: (event: TrackedEvent) => CellValue;
}

const SHIP = '21 CFR 1.1340(a)';
const RECEIVE = '21 CFR 1.1345(a)';
const MAKE = '21 CFR 1.1350(a)';
const EU = '(EU) 931/2011 Art. 3(1)';

/** A column of text unless said otherwise. */
function column(
  title: string,
  width: number,
  law: string,
  meaning: string,
  value: EventColumn['value'],
  kind: NonNullable<SheetColumn['kind']> = 'text',
): EventColumn {
  return { title, width, law, meaning, value, kind };
}

function inputsText({ inputs }: TrackedEvent): string | null {
  if (!inputs || inputs.length === 0) return null;
  return inputs.map((one) => `${one.lotCode} (${one.itemName}): ${one.quantity} ${one.unit}`).join('; ');
}

export const EVENT_COLUMNS: readonly EventColumn[] = [
  column(
    'Critical tracking event',
    16,
    '21 CFR 1.1310',
    'shipping, receiving or transformation as the law means them; empty for kinds of our own, so that the file is complete',
    ({ kind }) => CRITICAL[kind],
  ),
  column('Event', 18, 'our own', 'What it was, by the list of events below', ({ kind }) => kind),
  column('Input or output', 9, MAKE, 'Of a transformation: whether the lot went in or came out', ({ kind }) =>
    roleOf(kind),
  ),
  column(
    'Date',
    11,
    `${SHIP}(6), ${RECEIVE}(6), ${MAKE}(2)`,
    'By the calendar of the site where it happened',
    ({ row }) => row.occurredOn,
    'date',
  ),
  column(
    'Date and time (UTC)',
    19,
    'our own',
    'The moment, in Coordinated Universal Time',
    ({ row }) => row.occurredAt.getTime(),
    'time',
  ),
  column(
    'Last time (UTC)',
    19,
    'our own',
    'Where one row sums the beeps of a day: the last of them',
    ({ row: { occurredAt, lastAt } }) => (lastAt.getTime() === occurredAt.getTime() ? null : lastAt.getTime()),
    'time',
  ),
  column(
    'Traceability lot code',
    22,
    `${SHIP}(1), ${RECEIVE}(1), ${MAKE}; ${EU}(g)`,
    'Our lot code, given once when the lot was received or made; shipping gives no new one',
    ({ lot }) => lot.lotCode,
  ),
  column(
    "Supplier's lot code",
    18,
    `${RECEIVE}(1)`,
    'As on the delivery; our code stands for it in everything that follows',
    ({ lot }) => lot.supplierLotCode,
  ),
  column('Product', 30, `${SHIP}(3), ${RECEIVE}(3), ${MAKE}; ${EU}(a)`, 'Product name', ({ lot }) => lot.itemName),
  column('Item code', 16, 'our own', 'Our code of the product', ({ lot }) => lot.itemCode),
  column('Pack size', 10, '21 CFR 1.1310', 'Of the product description', ({ packSize }) => packSize),
  column('Pack style', 12, '21 CFR 1.1310', 'Of the product description', ({ packStyle }) => packStyle),
  column(
    'Quantity',
    10,
    `${SHIP}(2), ${RECEIVE}(2), ${MAKE}; ${EU}(b)`,
    'In the unit beside it; of an input, what was used of that lot',
    ({ row }) => Math.abs(row.quantity),
    'number',
  ),
  column('Unit', 7, `${SHIP}(2), ${RECEIVE}(2), ${MAKE}`, 'mg, g, ml or piece', ({ lot }) => lot.unit),
  column('Use by', 11, 'our own', 'The date on the label', ({ lot }) => lot.useByDate, 'date'),
  column('Best before', 11, 'our own', 'The date on the label', ({ lot }) => lot.bestBeforeDate, 'date'),
  column(
    'Location',
    40,
    `${SHIP}(5), ${RECEIVE}(5), ${MAKE}(2); ${EU}(c), (e)`,
    'Location description of where it happened: shipped from, received at, transformed at',
    ({ location }) => location.description,
  ),
  column(
    'Previous source',
    40,
    `${RECEIVE}(4); ${EU}(c)`,
    'Location description of whom it was received from: the supplier, or the site that sent it',
    ({ previousSource }) => previousSource?.description ?? null,
  ),
  column(
    'Recipient',
    40,
    `${SHIP}(4); ${EU}(e)`,
    'Location description of whom it was shipped to',
    ({ recipient }) => recipient?.description ?? null,
  ),
  column(
    'Owner of the food',
    30,
    `${EU}(d), (f)`,
    'Name and address of the group, which owns what its sites ship and receive',
    ({ owner }) => owner?.description ?? null,
  ),
  column(
    'Traceability lot code source',
    40,
    `${SHIP}(7), ${RECEIVE}(7), ${MAKE}(2)`,
    "Location description of where our lot code was given; the supplier's own code is the previous source's",
    ({ tlcSource }) => tlcSource.description,
  ),
  column(
    'Reference document type',
    15,
    `${SHIP}(8), ${RECEIVE}(8), ${MAKE}(2)`,
    'delivery-note, shop-receipt, dispatch (our consignment), batch-record, ledger-entry (our record of it)',
    ({ document }) => document.type,
  ),
  column(
    'Reference document number',
    20,
    `${SHIP}(8), ${RECEIVE}(8), ${MAKE}(2)`,
    'Number or code on it',
    ({ document }) => document.number,
  ),
  column(
    'Dispatched on',
    11,
    `${EU}(h)`,
    "The day it left the sender, by the sender's calendar; not recorded for suppliers' deliveries",
    ({ dispatchedOn }) => dispatchedOn,
    'date',
  ),
  column(
    'Made from',
    60,
    `${MAKE}(1)`,
    'Of an output: traceability lot code, product and quantity of every lot that went in; of a batch, all that went into the batch',
    inputsText,
  ),
  column('Recorded by', 20, 'our own', 'Who recorded it, person or device', ({ recordedBy }) => recordedBy),
  column(
    'Recorded at (UTC)',
    19,
    'our own',
    'When it was recorded; of several, the last',
    ({ row }) => row.recordedAt.getTime(),
    'time',
  ),
  column(
    'Entries',
    8,
    'our own',
    'How many records the row sums: packs that were scanned one by one make one row for a lot, site and day',
    ({ row }) => row.facts,
    'number',
  ),
  column('Event id', 38, 'our own', 'The record, or the first of them', ({ row }) => row.eventId),
  column(
    'Missing',
    30,
    'our own',
    'Key data elements that the law asks for and nobody recorded; they are left empty',
    (event) => missingNames(event).join(', ') || null,
  ),
];

export const EVENT_MEANINGS: readonly (readonly [code: string, meaning: string])[] = [
  ['goods-in', 'Received from a supplier'],
  ['opening-stock', 'In stock when records began: nobody knows from whom it came'],
  ['batch-input', 'Put into a batch'],
  ['batch-output', 'Came out of a batch: one lot for each oven load or kettle'],
  ['packing-input', 'Filled into packs'],
  ['packing-output', 'Packs that were sealed'],
  ['conversion-input', 'Opened, decanted, portioned, heated again, frozen, thawed or sampled at a site'],
  ['conversion-output', 'What came of that, under a lot code of its own'],
  ['departure', 'Left a site for another one'],
  ['receipt', 'Arrived at a site from another one'],
  ['refused-at-door', 'Refused on arrival and sent back on the same van'],
  ['use', 'Served'],
  ['use-by-count', 'Served, as a count of what was left shows'],
  ['discard', 'Thrown away'],
  ['return-to-supplier', 'Sent back to the supplier'],
  ['return-from-service', 'Came back from service, into quarantine'],
  ['count-missing', 'A count found less than there should have been'],
  ['count-found', 'A count found more than there should have been'],
];

export const NOTES: readonly string[] = [
  'One row for an event and lot, net of what was undone. Moves within a site are left out.',
  'What nobody recorded is empty and counted as missing. Nothing is made up.',
  "Traceability lot codes are ours. A supplier's lot has our code from goods-in on; the supplier's own code stands beside it.",
  'Quantities that went into a batch are those of the whole batch: they are not shared out between what came out of it.',
  'Shipping and receiving between sites of the group are recorded like those between businesses. The group owns the food throughout.',
  'Paragraph numbers of 21 CFR 1.1350(a) are from memory.',
];
