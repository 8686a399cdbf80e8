/**
 * 500 pack labels as one PDF against the same number of pages with the same barcodes and the same words, set in fixed places by the PDF and
 * barcode libraries alone: what our fitting, wrapping and drawing cost. The ratio gates; seconds are watched, and so is memory, in a process of
 * its own that draws ten times as many piece by piece. Afterwards pages are counted, and one label is read back from its pixels.
 */
import { fork } from 'node:child_process';
import { once } from 'node:events';
import { buffer } from 'node:stream/consumers';
import bwip from 'bwip-js/node';
import PDFDocument from 'pdfkit';
import { LAYOUTS, renderLabelPng, renderLabelsPdf, streamLabelsPdf } from '../src/features/labels/drawing/index.ts';
import type { LabelContent } from '../src/features/labels/drawing/index.ts';
import { MM, registerFonts } from '../src/platform/pdf/fonts.ts';
import { prepareReader, readCodes } from '../tests/support/barcodes.ts';
import { measure, versionsOf, type Result, type Side } from './measure.ts';

/** The least median ratio that passes. Seen on two cores with others at work on them, five pairs: 0.70 (0.64 to 0.74). */
const GATE = 0.5;
const LABELS = 500;
const MIB = 1024 * 1024;
const KIB = 1024;
const GTIN = '09501101530003';
const layout = LAYOUTS['roll-100x60'];

const elementsOf = (serialNo: number): { ai: string; value: string }[] => [
  { ai: '01', value: GTIN },
  { ai: '17', value: '261129' },
  { ai: '3103', value: String(300 + (serialNo % 50)).padStart(6, '0') },
  { ai: '21', value: String(serialNo) },
  { ai: '10', value: 'STEW-261125-01' },
];

function labelOf(serialNo: number): LabelContent {
  return {
    dish: 'Beef and barley stew',
    packer: 'Jo Marsh',
    packedOn: '2026-11-25',
    useBy: '2026-11-29',
    storageInstruction: 'Keep at 0 to 3 °C. Reheat to 70 °C for 2 minutes at the core. Once open, use within 24 hours.',
    allergens: ['Barley', 'Milk', 'Celery'],
    mayContain: ['Mustard'],
    lotCode: 'STEW-261125-01',
    serial: String(serialNo),
    netWeightG: 300 + (serialNo % 50),
    siteName: 'Riverside Central Kitchen',
    handling: 'ready-to-eat',
    heldNote: null,
    textureLevel: 5,
    diets: ['Gluten free'],
    symbol: { kind: 'gs1datamatrix', elements: elementsOf(serialNo) },
  };
}

/** A lazy list, as a table of packs is read. */
function* labelsOf(count: number): Generator<LabelContent> {
  for (let serialNo = 1; serialNo <= count; serialNo += 1) yield labelOf(serialNo);
}

const pagesIn = (pdf: Buffer): number => pdf.toString('latin1').match(/\/Type \/Page\b/g)?.length ?? 0;

function must(pdf: Buffer): void {
  if (pagesIn(pdf) !== LABELS) throw new Error(`${pagesIn(pdf)} pages instead of ${LABELS}`);
}

/** The words of a label, a line each, at one size in one place: nothing is fitted, wrapped or emphasised. */
async function plainPdf(): Promise<Buffer> {
  const size: [number, number] = [layout.widthMm * MM, layout.heightMm * MM];
  const doc = new PDFDocument({ autoFirstPage: false, size, margin: 0 });
  registerFonts(doc);
  const bytes = buffer(doc);
  for (const label of labelsOf(LABELS)) {
    doc.addPage();
    const lines = [
      [label.dish, 'USE BY', '29 NOV 2026', 'READY TO EAT', '5', 'IDDSI Minced & Moist', 'Gluten free'],
      [`Contains: ${label.allergens.join(', ')}`, `May contain: ${label.mayContain.join(', ')}`],
      label.storageInstruction.split('. '),
      [
        `Lot ${label.lotCode}`,
        `Serial ${label.serial}`,
        `${label.netWeightG} g`,
        `Packed 25 NOV 2026 by Jo Marsh, ${label.siteName}`,
      ],
    ].flat();
    lines.forEach((line, at) =>
      doc
        .font('bold')
        .fontSize(8)
        .text(line, 3 * MM, (2 + at * 3.5) * MM, { lineBreak: false }),
    );
    const text = elementsOf(Number(label.serial))
      .map(({ ai, value }) => `(${ai})${value}`)
      .join('');
    const svg = bwip.toSVG({ bcid: 'gs1datamatrix', text, scale: 1 });
    for (const [, path = ''] of svg.matchAll(/<path d="([^"]+)"/g)) {
      doc
        .save()
        .translate(78 * MM, 3 * MM)
        .scale(0.7)
        .path(path)
        .fill('black', 'even-odd')
        .restore();
    }
  }
  doc.end();
  return bytes;
}

const sideOf = (make: () => Promise<Buffer>, times: number[]): Side => ({
  prepare: () =>
    Promise.resolve({
      units: LABELS,
      run: async () => {
        const startedMs = performance.now();
        must(await make());
        times.push((performance.now() - startedMs) / 1000);
      },
    }),
});

interface Held {
  readonly heapMib: number;
  readonly peakMib: number;
}

/** In the process of its own: the pieces go nowhere, as they would go to a socket. */
async function hold(count: number): Promise<Held> {
  let most = 0;
  let pieces = 0;
  for await (const piece of streamLabelsPdf(labelsOf(count), layout)) {
    pieces += piece.length;
    most = Math.max(most, process.memoryUsage().heapUsed);
  }
  if (pieces === 0) throw new Error('Nothing was drawn');
  return { heapMib: most / MIB, peakMib: process.resourceUsage().maxRSS / KIB };
}

async function holdApart(count: number): Promise<Held> {
  const child = fork(import.meta.filename, [String(count)], { execArgv: ['--import', 'tsx'] });
  const [[held]] = (await Promise.all([once(child, 'message'), once(child, 'exit')])) as [[Held], unknown];
  return held;
}

/** One label of the run as a reader sees it. Throws when it says something else. */
async function readBack(): Promise<string> {
  prepareReader();
  const [found] = await readCodes(await renderLabelPng(labelOf(77), layout, 203));
  const meant = `01${GTIN}17261129310300032721${77}\u001d10STEW-261125-01`;
  if (found?.text !== meant)
    throw new Error(`The label says ${JSON.stringify(found?.text)}, not ${JSON.stringify(meant)}`);
  return 'a label of the run is read back from its pixels as it was meant';
}

export async function labels({
  seed,
  quick,
  say,
}: {
  seed: number;
  quick: boolean;
  say: (line: string) => void;
}): Promise<Result> {
  const seconds: { ours: number[]; ceiling: number[] } = { ours: [], ceiling: [] };
  const measured = await measure(
    sideOf(() => renderLabelsPdf(labelsOf(LABELS), layout), seconds.ours),
    sideOf(plainPdf, seconds.ceiling),
    quick ? { pairs: 2, warmUps: 1 } : { pairs: 5, warmUps: 1 },
  );
  const [few, many] = [await holdApart(LABELS), await holdApart(LABELS * 10)];
  const slowest = Math.max(...seconds.ours);
  say(
    `labels: ${LABELS} in at most ${slowest.toFixed(2)} s, ratio ${measured.ratio.median.toFixed(2)}; ` +
      `heap ${few.heapMib.toFixed(0)} MiB for ${LABELS}, ${many.heapMib.toFixed(0)} MiB for ${LABELS * 10}`,
  );
  return {
    name: 'labels',
    unit: 'labels/s',
    gate: GATE,
    passed: measured.ratio.median >= GATE,
    seed,
    versions: versionsOf('none'),
    cases: { [`${LABELS} in one PDF`]: measured },
    watched: { slowestSeconds: slowest, ofOne: few, ofTen: many },
    checks: [`each PDF has ${LABELS} pages`, await readBack()],
  };
}

if (process.argv[1] === import.meta.filename) {
  process.send?.(await hold(Number(process.argv[2])));
  process.disconnect();
}
