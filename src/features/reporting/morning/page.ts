/** The morning list as a page for the wall: boxes to tick, the gravest first. Refusals: none. */
import { DateTime } from 'luxon';
import type { Cell, Section, Sheet } from '../../../platform/pdf/sheet.ts';
import type { MorningAnswer } from './contract.ts';

const UNITS = { mg: 'mg', g: 'g', ml: 'ml', piece: 'packs' } as const;
const WHY = {
  'missing-in-transit': 'Sent and not found',
  'still-on-the-road': 'Left before today, not received',
  'place-presumed': 'Nobody saw where it was put',
} as const;

function amount(quantity: number, unit: keyof typeof UNITS): string {
  if (unit === 'piece') return quantity === 1 ? '1 piece' : `${quantity} pieces`;
  return unit === 'g' && quantity >= 10_000 ? `${(quantity / 1000).toFixed(1)} kg` : `${quantity} ${UNITS[unit]}`;
}

function parts(heading: string, note: string, none: string, rows: MorningAnswer['useToday'], why: boolean): Section {
  return {
    heading: `${heading} (${rows.length})`,
    note,
    none,
    columns: [
      { title: 'Done', share: 7 },
      { title: 'What', share: 34 },
      { title: 'Lot', share: 22 },
      { title: 'How much', share: 13, align: 'right' },
      { title: 'Where', share: 17 },
      { title: why ? 'Why' : 'Use', share: 24 },
    ],
    rows: rows.map((row): Cell[] => [
      null,
      { bold: row.itemName },
      row.lotCode,
      amount(row.quantity, row.unit),
      row.placeName,
      why ? (row.whyNot ?? row.due ?? '') : { bold: row.due ?? '' },
    ]),
  };
}

export function morningSheet(list: MorningAnswer, zone: string, nowMs: number): Sheet {
  const at = (instant: string, format: string) =>
    DateTime.fromISO(instant, { zone }).setLocale('en-GB').toFormat(format);
  return {
    title: `Morning list: ${list.siteName}`,
    subtitle: at(list.madeAt, "cccc d LLLL yyyy, 'made at' HH:mm"),
    madeAtMs: nowMs,
    foot: list.caution,
    sections: [
      parts('Past its date', 'Do not use. Discard it and record the discard.', 'None.', list.pastDate, true),
      parts('Use today', 'Oldest first.', 'Nothing ends today.', list.useToday, false),
      parts('Set aside', 'Leave it where it is until it is decided.', 'None.', list.setAside, true),
      {
        heading: `Booked and not seen here (${list.notAccountedFor.length})`,
        note: 'Look for it; scan or count it where it stands.',
        none: 'Everything is accounted for.',
        columns: [
          { title: 'Found', share: 8 },
          { title: 'What', share: 32 },
          { title: 'Lot', share: 22 },
          { title: 'How much', share: 13, align: 'right' },
          { title: 'Where', share: 26 },
          { title: 'Why', share: 20 },
        ],
        rows: list.notAccountedFor.map((row): Cell[] => [
          null,
          { bold: row.itemName },
          row.lotCode,
          amount(row.quantity, row.unit),
          `${row.where}, ${at(row.sinceAt, 'd LLL HH:mm')}`,
          WHY[row.why],
        ]),
      },
      {
        heading: `Arriving (${list.arriving.length})`,
        none: 'Nothing is on its way.',
        columns: [
          { title: 'Dispatch', share: 24 },
          { title: 'From', share: 34 },
          { title: 'Left', share: 14 },
          { title: 'Lots', share: 10, align: 'right' },
        ],
        rows: list.arriving.map((row) => [row.code, row.fromSiteName, at(row.departedAt, 'HH:mm'), String(row.lots)]),
      },
      {
        heading: `To settle (${list.findings.length})`,
        none: 'No open findings.',
        columns: [
          { title: 'Since', share: 13 },
          { title: 'What was found', share: 30 },
          { title: 'Lot', share: 22 },
          { title: 'What to do', share: 45 },
        ],
        rows: list.findings.map((row): Cell[] => [
          at(row.occurredAt, 'd LLL HH:mm'),
          { bold: row.label },
          [row.itemName, row.lotCode].filter(Boolean).join(', '),
          row.advice,
        ]),
      },
    ],
  };
}
