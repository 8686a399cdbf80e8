/** What stands on the sheets: lines to write on, codes to scan. Refusals: none. */
import { formatUseBy } from '../../../domain/use-by.ts';
import type { Cell, Column, Section, Sheet } from '../../../platform/pdf/sheet.ts';
import type { OnHandRow, SheetDispatchRow, SheetLineRow } from './queries.ts';

const FOOT =
  'Write times as on the clock. Enter it as soon as the network is back. In doubt about food: set it aside and ask the quality lead.';

const column = (title: string, share: number, align: 'left' | 'right' = 'left'): Column => ({ title, share, align });
const blank = (columns: number): Cell[] => new Array<Cell>(columns).fill(null);
const rowsOf = (rows: number, columns: number): Cell[][] => Array.from({ length: rows }, () => blank(columns));

function amount(quantity: number, unit: string): string {
  if (unit === 'g' && quantity >= 10_000) return `${quantity / 1000} kg`;
  return unit === 'piece' ? `${quantity} pieces` : `${quantity} ${unit}`;
}

export interface BatchSheet {
  readonly title: string;
  readonly siteName: string;
  readonly zone: string;
  /** null: not opened yet */
  readonly batchCode: string | null;
  readonly inputs: readonly {
    readonly itemId: string;
    readonly name: string;
    readonly quantity: number;
    readonly unit: string;
  }[];
  readonly onHand: readonly OnHandRow[];
  readonly steps: readonly string[];
  readonly madeAtMs: number;
}

export function batchSheet(sheet: BatchSheet): Sheet {
  const inputRows = sheet.inputs.flatMap((input): Cell[][] => {
    const lots = sheet.onHand.filter((row) => row.itemId === input.itemId);
    const expected: Cell = { bold: `${input.name}, ${amount(input.quantity, input.unit)}` };
    const known = lots.map((lot, at): Cell[] => [
      at === 0 ? expected : '',
      { code: lot.lotCode },
      [
        lot.useByMs === null ? 'no date' : formatUseBy(lot.useByMs, sheet.zone),
        `${amount(lot.quantity, lot.unit)}, ${lot.placeName}`,
      ].join('\n'),
      null,
      null,
      null,
    ]);
    return [...known, [known.length === 0 ? expected : '', null, null, null, null, null]];
  });
  const sections: Section[] = [
    {
      heading: 'What goes in',
      note: 'One line for each lot. If it is not on the list, write its code as it stands on the label.',
      columns: [
        column('Expected', 26),
        column('Lot', 28),
        column('Use by, on hand', 22),
        column('Taken', 12),
        column('Time', 10),
        column('Who', 8),
      ],
      rows: inputRows,
      rowMm: 9,
    },
    {
      heading: 'Steps',
      columns: [
        column('Step', 20),
        column('Began', 12),
        column('Ended', 12),
        column('Core °C', 12),
        column('Who', 10),
        column('Remarks', 34),
      ],
      rows: sheet.steps.map((step) => [step.replaceAll('-', ' '), ...blank(5)]),
      rowMm: 8,
    },
    {
      heading: 'What came out: one line for each load or trolley',
      columns: [
        column('Load', 8),
        column('Weight', 16),
        column('Cooked until', 16),
        column('Chilled until', 16),
        column('Core °C', 12),
        column('Put where', 20),
        column('Who', 10),
      ],
      rows: ['1', '2', '3', '4'].map((load) => [load, ...blank(6)]),
      rowMm: 9,
    },
    {
      heading: 'Packing',
      columns: [
        column('From load', 10),
        column('Machine, programme', 24),
        column('Began', 11),
        column('Ended', 11),
        column('Packs', 10),
        column('Rejected', 11),
        column('Used', 12),
        column('Who', 9),
      ],
      rows: rowsOf(3, 8),
      rowMm: 9,
    },
    {
      heading: 'Lost and gained',
      note: 'Trim, cooking loss, drip; water taken up.',
      columns: [column('What', 40), column('Weight', 20), column('Who', 10)],
      rows: rowsOf(2, 3),
      rowMm: 8,
    },
  ];
  return {
    title: `Batch sheet: ${sheet.title}`,
    subtitle: `${sheet.siteName}${sheet.batchCode === null ? ', batch not opened yet. Date:' : `, batch ${sheet.batchCode}`}`,
    ...(sheet.batchCode !== null && { code: sheet.batchCode }),
    madeAtMs: sheet.madeAtMs,
    foot: FOOT,
    sections,
  };
}

export interface DropSheet {
  readonly dispatch: SheetDispatchRow;
  readonly fromName: string;
  readonly toName: string;
  readonly zone: string;
  readonly lines: readonly SheetLineRow[];
  readonly madeAtMs: number;
}

export function dropSheet({ dispatch, fromName, toName, zone, lines, madeAtMs }: DropSheet): Sheet {
  const van = [dispatch.vehicle, dispatch.driverName].filter(Boolean).join(', ');
  return {
    title: `Drop sheet: ${toName}`,
    subtitle: `Dispatch ${dispatch.code} from ${fromName}${van === '' ? '' : `. ${van}`}`,
    code: dispatch.code,
    madeAtMs,
    foot: FOOT,
    sections: [
      {
        heading: 'Times',
        columns: ['Left', 'Arrived', 'At the door', 'Put away', 'Van air °C', 'Driver', 'Received by'].map((title) =>
          column(title, 1),
        ),
        rows: rowsOf(1, 7),
        rowMm: 10,
      },
      {
        heading: `What was sent (${lines.length})`,
        note: 'Write what was found. What is refused stays on the van: write how much and why.',
        columns: [
          column('Lot', 26),
          column('What', 30),
          column('Use by', 16),
          column('Sent', 12, 'right'),
          column('Found', 10),
          column('°C', 8),
          column('Refused, why', 22),
        ],
        rows: lines.map((line): Cell[] => [
          { code: line.lotCode },
          { bold: `${line.itemName}${line.crateCode === null ? '' : `\nCrate ${line.crateCode}`}` },
          line.useByMs === null ? 'no date' : formatUseBy(line.useByMs, zone),
          amount(line.quantity, line.unit),
          null,
          null,
          null,
        ]),
        rowMm: 12,
      },
      {
        heading: 'Also found, not on the list',
        columns: [
          column('Code on the label', 34),
          column('How much', 16),
          column('°C', 10),
          column('Put where', 24),
          column('Who', 10),
        ],
        rows: rowsOf(4, 5),
        rowMm: 9,
      },
    ],
  };
}

/** Hours at which people look; the plan of the group may want others: the column is headed by hand then. */
const ROUNDS = ['06:00', '10:00', '14:00', '18:00', '22:00'];

export function temperatureSheet(sheet: {
  readonly siteName: string;
  readonly date: string;
  readonly places: readonly { readonly code: string; readonly name: string; readonly kind: string }[];
  readonly madeAtMs: number;
}): Sheet {
  return {
    title: `Temperatures: ${sheet.siteName}`,
    subtitle: sheet.date,
    madeAtMs: sheet.madeAtMs,
    foot: `The limits are those of your food-safety plan. ${FOOT}`,
    landscape: true,
    sections: [
      {
        heading: 'Places, °C',
        note: 'Write the time beside the value if it is not the one above. Outside the limit: write what was done, tell the quality lead.',
        columns: [
          column('Code', 14),
          column('Place', 30),
          column('Limit', 10),
          ...ROUNDS.map((round) => column(round, 11)),
          column('What was done', 30),
        ],
        rows: sheet.places.map((place): Cell[] => [
          { code: place.code },
          { bold: `${place.name}\n${place.kind.replaceAll('-', ' ')}` },
          null,
          ...ROUNDS.map(() => null),
          null,
        ]),
        rowMm: 12,
      },
      {
        heading: 'Who looked',
        columns: [column('', 54), ...ROUNDS.map((round) => column(round, 11)), column('Probe no.', 30)],
        rows: [['Initials', ...ROUNDS.map(() => null), null]],
        rowMm: 9,
      },
    ],
  };
}
