/** The relabel list as a page for the shelves: what, how many, the old date, the new one, why, and room to sign. Refusals: none. */
import { DateTime } from 'luxon';
import { formatUseBy } from '../../../domain/use-by.ts';
import type { Cell, Section, Sheet } from '../../../platform/pdf/sheet.ts';
import type { RelabelAnswer } from './contract.ts';

interface List {
  readonly site: { readonly name: string; readonly timeZone: string };
  readonly rows: readonly RelabelAnswer[];
  readonly more: boolean;
  readonly caution: string;
  readonly nowMs: number;
}

const amount = ({ left, unit }: RelabelAnswer): string => (unit === 'piece' ? String(left) : `${left} ${unit}`);

function section(placeName: string, rows: readonly RelabelAnswer[], zone: string): Section {
  return {
    heading: `${placeName} (${rows.length})`,
    columns: [
      { title: 'Done', share: 7 },
      { title: 'What', share: 30 },
      { title: 'Lot', share: 22 },
      { title: 'Packs', share: 9, align: 'right' },
      { title: 'Label says', share: 17 },
      { title: 'Write', share: 21 },
      { title: 'Why', share: 40 },
      { title: 'Done by', share: 16 },
      { title: 'Witness', share: 16 },
    ],
    rows: rows.map((row): Cell[] => [
      null,
      { bold: row.itemName },
      row.lotCode,
      amount(row),
      row.printedUseByAt === null ? 'no date' : formatUseBy(Date.parse(row.printedUseByAt), zone),
      { bold: row.over ? `Nothing: discard (${row.newUseByText})` : row.newUseByText },
      row.reason,
      null,
      null,
    ]),
    rowMm: 11,
  };
}

export function relabelSheet({ site, rows, more, caution, nowMs }: List): Sheet {
  const places = new Map<string, RelabelAnswer[]>();
  for (const row of rows) places.set(row.placeName, [...(places.get(row.placeName) ?? []), row]);
  const made = DateTime.fromMillis(nowMs, { zone: site.timeZone }).setLocale('en-GB');
  const what =
    'Strike out the old use-by, stick on or write the new one. Written by hand: a second person looks and signs.';
  const tail = more ? ' There are more: print again when these are done.' : '';
  const none: Section = {
    heading: 'Nothing to relabel',
    none: 'Every label says the date in force.',
    columns: [],
    rows: [],
  };
  return {
    title: `Relabel: ${site.name}`,
    subtitle: `${made.toFormat("cccc d LLLL yyyy, 'made at' HH:mm")}. ${what}${tail}`,
    madeAtMs: nowMs,
    landscape: true,
    foot: caution,
    sections: rows.length === 0 ? [none] : Array.from(places, ([name, list]) => section(name, list, site.timeZone)),
  };
}
