/** Parts of the record about food: what went in, what came out, how it was packed, what is unexplained. */
import type { BatchRecord } from './contract.ts';
import { bold, plain, type Line, type Tone, type ViewCell, type ViewFacts, type ViewTable } from './view-shapes.ts';
import {
  allergensText,
  amountText,
  countText,
  dateText,
  massText,
  nameText,
  spaced,
  type Times,
} from './view-words.ts';

type Lot = BatchRecord['lots'][number];

const MOST_ROWS = 200;
/** A cell is never higher than a page. */
const MOST_LINES = 30;

export function cutLines(lines: readonly Line[]): readonly Line[] {
  if (lines.length <= MOST_LINES) return lines;
  return [...lines.slice(0, MOST_LINES - 1), { text: `and ${lines.length - MOST_LINES + 1} more`, small: true }];
}

/** A page is for reading: what is more than that is said, and is in the data. */
export function cut<T>(rows: readonly T[]): { readonly shown: readonly T[]; readonly note: string | null } {
  if (rows.length <= MOST_ROWS) return { shown: rows, note: null };
  return {
    shown: rows.slice(0, MOST_ROWS),
    note: `The first ${MOST_ROWS} of ${rows.length}; all of them are in the record as JSON.`,
  };
}

const STATES: Readonly<Record<Lot['state'], readonly [text: string, tone: Tone]>> = {
  'awaiting-release': ['Awaiting release', 'warn'],
  released: ['Released', 'good'],
  rejected: ['Rejected', 'bad'],
  'for-rework': ['Rejected for rework', 'bad'],
};

/** Holds that the state says already. */
const IN_STATE = new Set(['awaiting-release', 'rejected', 'for-rework', 'drill']);

/** Kinds of other holds, in words. */
export const otherHolds = ({ holds }: Lot): string[] =>
  holds.filter((kind) => !IN_STATE.has(kind)).map((kind) => kind.replaceAll('-', ' '));

function stateCell(lot: Lot): ViewCell {
  const [text, tone] = STATES[lot.state];
  return [
    { text, bold: true, tone },
    ...otherHolds(lot).map((kind): Line => ({ text: `on hold: ${kind}`, small: true, tone: 'bad' })),
  ];
}

export function lotsTable(record: BatchRecord, times: Times): ViewTable {
  const { shown, note } = cut(record.lots);
  return {
    id: 'made',
    heading: 'What was made',
    note: note ?? 'Each load and each filling of packs is a lot of its own, with its own checks and its own release.',
    none: 'Nothing has come out of the batch yet.',
    columns: [
      { title: 'Lot', share: 32 },
      { title: 'Amount', share: 12, align: 'right' },
      { title: 'Cooked until', share: 14 },
      { title: 'Use by', share: 14 },
      { title: 'Allergens', share: 22 },
      { title: 'Standing', share: 18 },
    ],
    rows: shown.map((lot, at): ViewCell[] => [
      bold(lot.lotCode, whatItIs(lot, shown[at - 1]?.itemName ?? record.itemName)),
      [
        { text: amountText(lot.quantity, lot.unit) },
        ...(lot.unit === 'piece' ? [{ text: massText(lot.massG), small: true }] : []),
      ],
      plain(lot.cookEndedAt === null ? '' : times.time(lot.cookEndedAt)),
      plain(dateText(lot.useByDate)),
      [
        { text: allergensText(lot.allergens), small: true },
        ...(lot.undeclared.length > 0
          ? [{ text: `not declared: ${allergensText(lot.undeclared)}`, small: true, tone: 'bad' as const }]
          : []),
      ],
      stateCell(lot),
    ]),
  };
}

/** The name of the item is said where it changes. */
function whatItIs({ kind, loadNo, itemName }: Lot, above: string): string {
  const what = kind === 'load' ? `Load ${loadNo ?? ''}`.trim() : 'Packs';
  return itemName === above ? what : `${what}: ${itemName}`;
}

export function inputsTable(record: BatchRecord, times: Times): ViewTable {
  const { shown, note } = cut(record.inputs);
  return {
    id: 'inputs',
    heading: 'What went in',
    ...(note !== null && { note }),
    none: 'Nothing was put in.',
    columns: [
      { title: 'Time', share: 12 },
      { title: 'What', share: 32 },
      { title: 'Amount', share: 12, align: 'right' },
      { title: 'Where it came from', share: 36 },
      { title: 'Use by', share: 14 },
      { title: 'By', share: 16 },
    ],
    rows: shown.map((input): ViewCell[] => [
      [
        { text: times.time(input.takenAt) },
        ...(input.recordedAfterwards ? [{ text: 'recorded afterwards', small: true }] : []),
      ],
      [
        { text: input.itemName, bold: true },
        { text: input.lotCode, small: true },
        ...(input.allergens.length > 0 ? [{ text: `contains ${allergensText(input.allergens)}`, small: true }] : []),
        ...(input.forRework
          ? [{ text: 'rework: rejected before, heated through here', small: true, bold: true, tone: 'warn' as const }]
          : []),
      ],
      plain(amountText(input.quantity, input.unit)),
      originCell(input),
      plain(input.useByDate === null ? '' : dateText(input.useByDate)),
      plain(nameText(input.takenBy)),
    ]),
  };
}

function originCell(input: BatchRecord['inputs'][number]): ViewCell {
  if (input.supplierName !== null) {
    const delivery = [
      input.documentNumber === null ? null : `note ${input.documentNumber}`,
      input.receivedOn === null ? null : dateText(input.receivedOn),
      input.receivedTemperatureC === null ? null : `${input.receivedTemperatureC} °C at goods in`,
    ].filter((one) => one !== null);
    return [
      { text: input.supplierName },
      ...(input.supplierLotCode === null ? [] : [{ text: `their lot ${input.supplierLotCode}`, small: true }]),
      ...(delivery.length === 0 ? [] : [{ text: delivery.join(', '), small: true }]),
    ];
  }
  if (input.fromBatch !== null) {
    const { code, batchId } = input.fromBatch;
    return [{ text: `Batch ${code}`, href: `/v1/batches/${batchId}/record?format=html` }];
  }
  return [{ text: input.origin === 'pseudo' ? 'not kept by lot' : spaced(input.origin), small: true, tone: 'quiet' }];
}

export function runsTable(record: BatchRecord, times: Times): ViewTable {
  return {
    id: 'packing',
    heading: 'Packing',
    none: 'Nothing was packed.',
    columns: [
      { title: 'Time', share: 15 },
      { title: 'Machine and programme', share: 30 },
      { title: 'Packs made', share: 10, align: 'right' },
      { title: 'Rejected', share: 18 },
      { title: 'Filled', share: 32 },
      { title: 'Packer', share: 15 },
    ],
    rows: record.runs.map((run): ViewCell[] => {
      const struck = run.reversed ? { struck: true } : {};
      return [
        [
          { text: `${times.time(run.startedAt)} to ${times.time(run.finishedAt)}`, ...struck },
          ...(run.recordedAfterwards ? [{ text: 'recorded afterwards', small: true }] : []),
          ...(run.reversed ? [{ text: 'undone', small: true, tone: 'quiet' as const }] : []),
        ],
        [
          { text: run.machine, bold: true, ...struck },
          { text: run.programme, small: true },
          ...run.programmeFacts.map((text): Line => ({ text, small: true, tone: 'quiet' })),
          run.cleanedBefore === null
            ? { text: 'no clean-down recorded before it', small: true, tone: 'warn' }
            : {
                text: `cleaned down ${times.time(run.cleanedBefore.occurredAt)}, ${nameText(run.cleanedBefore.by)}`,
                small: true,
              },
        ],
        [{ text: String(run.packsMade), ...struck }],
        [
          { text: rejectedText(run) },
          ...run.rejects.map(({ reason, packs }): Line => ({
            text: `${packs} ${reason.replaceAll('-', ' ')}`,
            small: true,
          })),
          ...cutLines(
            run.faults.map(({ kind, packs, siteName, occurredAt }): Line => ({
              text: `later: ${packs} ${kind.replaceAll('-', ' ')}, ${siteName}, ${times.time(occurredAt)}`,
              small: true,
              tone: 'warn',
            })),
          ),
        ],
        cutLines(
          run.fills.map(({ fromLotCode, packLotCode, packs }): Line => ({
            text: `${fromLotCode} → ${packLotCode}, ${packs}`,
            small: true,
          })),
        ),
        plain(run.packer),
      ];
    }),
  };
}

function rejectedText({ packsMade, packsRejected }: BatchRecord['runs'][number]): string {
  if (packsRejected === 0) return 'none';
  const share = (100 * packsRejected) / (packsMade + packsRejected);
  return `${packsRejected} (${share.toFixed(1)} %)`;
}

export function yieldFacts(record: BatchRecord): ViewFacts {
  const { consumedG, gainsG, outputsG, unexplainedG, percent, expectedPercent } = record.yield;
  const gains = record.gains.map(({ kind, massG }) => `${kind.replaceAll('-', ' ')} ${massText(massG)}`).join(', ');
  return {
    id: 'yield',
    heading: 'Where the mass went',
    facts: [
      ['Went in', massText(consumedG)],
      ...(gainsG > 0 ? ([['Gained', massText(gainsG), gains]] as const) : []),
      ['Came out', massText(outputsG)],
      ...record.losses.map(
        ({ kind, massG, destination }) => [spaced(kind), massText(massG), destination?.replaceAll('-', ' ')] as const,
      ),
      ['Unexplained', massText(unexplainedG), record.state === 'open' ? 'the batch is still open' : undefined],
      ['Yield', percent === null ? '–' : `${percent} %`, `${expectedPercent} % expected`],
    ].map(([label = '', value = '', below]) => (below === undefined ? [label, value] : [label, value, below])),
  };
}

/** Who had a hand in it, and in what. */
export function peopleTable(record: BatchRecord): ViewTable {
  const did = new Map<string, Map<string, number>>();
  const add = (name: string | null, what: string, count = 1) => {
    const own = did.get(nameText(name)) ?? new Map<string, number>();
    did.set(nameText(name), own.set(what, (own.get(what) ?? 0) + count));
  };
  add(record.openedBy, 'opened the batch');
  for (const { takenBy } of record.inputs) add(takenBy, 'put in');
  for (const { doneBy, supersededByCheckId } of record.checks) if (supersededByCheckId === null) add(doneBy, 'checked');
  for (const { packer } of record.runs) add(packer, 'packed');
  for (const { decidedBy, outcome, automatic } of record.decisions) {
    if (!automatic) add(decidedBy, outcome);
  }
  const words: Readonly<Record<string, (count: number) => string>> = {
    'opened the batch': () => 'opened the batch',
    'put in': (count) => countText(count, 'input'),
    checked: (count) => countText(count, 'check'),
    packed: (count) => countText(count, 'packing run'),
    released: (count) => countText(count, 'release'),
    rejected: (count) => countText(count, 'rejection'),
  };
  return {
    id: 'people',
    heading: 'People',
    none: 'Nobody is named.',
    columns: [
      { title: 'Name', share: 30 },
      { title: 'Did', share: 70 },
    ],
    rows: [...did].map(([name, own]): ViewCell[] => [
      bold(name),
      plain([...own].map(([what, count]) => words[what]?.(count) ?? what).join(', ')),
    ]),
  };
}
