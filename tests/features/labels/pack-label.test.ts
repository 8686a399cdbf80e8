import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import fc from 'fast-check';
import PDFDocument from 'pdfkit';
import { beforeAll, describe, expect, test } from 'vitest';
import { prepareZXingModule, readBarcodes } from 'zxing-wasm/reader';
import {
  packBarcodePng,
  packBarcodeText,
  renderPackLabels,
  type PackLabel,
} from '../../../src/features/labels/pack-label.ts';
import { fitOrShorten, fitText, heightOf, type FittedText } from '../../../src/features/labels/text-fit.ts';

const stew: PackLabel = {
  dish: 'Beef and barley stew',
  packer: 'Jo Marsh',
  packedOn: '2026-11-25',
  useBy: '2026-11-29',
  storageInstruction: 'Keep at 0 to 3 °C. Reheat to 70 °C for 2 minutes at the core. Once open, use within 24 hours.',
  allergens: ['Barley', 'Milk', 'Celery'],
  mayContain: ['Mustard'],
  lotCode: 'STEW-261125-01',
  serial: '000123',
  netWeightG: 1750,
  siteName: 'Riverside Central Kitchen',
  handling: 'ready-to-eat',
  heldNote: null,
};

const TWENTY_ALLERGENS = [
  ...['Wheat', 'Rye', 'Barley', 'Oats', 'Spelt (wheat)', 'Khorasan wheat (kamut)', 'Crustaceans', 'Eggs', 'Fish'],
  ...['Peanuts', 'Soybeans', 'Milk', 'Almonds', 'Hazelnuts', 'Walnuts', 'Celery', 'Mustard', 'Sesame'],
  ...['Sulphur dioxide and sulphites', 'Molluscs'],
];

/** As full as a label gets: everything long at once. */
const fullest: PackLabel = {
  ...stew,
  dish: 'Slow-cooked Mediterranean vegetable, chickpea and apricot tagine with lemon and herb cousc',
  allergens: TWENTY_ALLERGENS,
  mayContain: TWENTY_ALLERGENS.slice(0, 14),
  useBy: '2026-10-25 01:30 UTC+1',
  lotCode: 'W'.repeat(20),
  serial: 'W'.repeat(20),
  heldNote: 'Awaiting release: pack it and cook with it here; do not send it out or serve it',
  handling: 'raw',
  packer: 'Alexandrina Featherstonehaugh-Montgomery',
  siteName: 'Riverside and Lower Meadows Joint Central Production Kitchen',
};

const pagesOf = (pdf: Buffer): number => pdf.toString('latin1').match(/\/Type \/Page\b/g)?.length ?? 0;

describe('the barcode', () => {
  beforeAll(() => {
    const file = createRequire(import.meta.url).resolve('zxing-wasm/reader/zxing_reader.wasm');
    const wasm = readFileSync(file);
    const wasmBinary = wasm.buffer.slice(wasm.byteOffset, wasm.byteOffset + wasm.byteLength);
    prepareZXingModule({ overrides: { wasmBinary } });
  });

  test('holds the lot, and the serial behind a slash', () => {
    expect(packBarcodeText('STEW-261125-01', '000123')).toBe('STEW-261125-01/000123');
    expect(packBarcodeText('STEW-261125-01', null)).toBe('STEW-261125-01');
  });

  // Every character a lot code may have stands in one of these.
  test.each([
    'STEW-261125-01/000123',
    'STEW-261125-01',
    'A',
    `${'W'.repeat(20)}/${'9'.repeat(20)}`,
    `!"&'()*+,-.0123456/7`,
    `789:;<=>?ABCDEFGHIJK/LMNOPQRSTUVWXYZ_a`,
    'abcdefghijklmnopqrst/uvwxyz%2F^029',
  ])('%s is read back by another library', async (text) => {
    const png = await packBarcodePng(text);
    const found = await readBarcodes(new Uint8Array(png), { formats: ['DataMatrix'], textMode: 'Plain' });
    expect(found.map((barcode) => barcode.text)).toEqual([text]);
  });
});

describe('the print', () => {
  test('is a PDF with a page for each label, 100 x 60 mm', async () => {
    const pdf = await renderPackLabels([stew, fullest, { ...stew, serial: null, netWeightG: null, allergens: [] }]);
    expect(pdf.subarray(0, 4).toString('latin1')).toBe('%PDF');
    expect(pdf.toString('latin1').trimEnd().endsWith('%%EOF')).toBe(true);
    expect(pagesOf(pdf)).toBe(3);
    const mediaBox = /\/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]/.exec(pdf.toString('latin1'));
    // 100 mm and 60 mm in points of 1/72 inch.
    expect(Number(mediaBox?.[1])).toBeCloseTo(283.46, 1);
    expect(Number(mediaBox?.[2])).toBeCloseTo(170.08, 1);
  });

  test('the same labels give the same bytes', async () => {
    expect((await renderPackLabels([stew])).equals(await renderPackLabels([stew]))).toBe(true);
  });

  test('the fullest label has room, held or not', async () => {
    expect(pagesOf(await renderPackLabels([fullest, { ...fullest, heldNote: null }]))).toBe(2);
  });

  test('a dish of any length, in any words, gives way; nothing else does', async () => {
    const dishes = ['W'.repeat(500), 'Żurek z białą kiełbasą', 'Μουσακάς', 'a\nb\u0000c', ''];
    expect(pagesOf(await renderPackLabels(dishes.map((dish) => ({ ...fullest, dish }))))).toBe(dishes.length);
    const tooMany = Array.from({ length: 20 }, () => TWENTY_ALLERGENS).flat();
    await expect(renderPackLabels([{ ...fullest, allergens: tooMany }])).rejects.toThrow(/no room .* allergens/);
    await expect(renderPackLabels([{ ...stew, lotCode: 'W'.repeat(400) }])).rejects.toThrow(/no room .* lot code/);
  });

  test.each(['29/11/2026', '2026-02-30', '', '2026-11-29x', 'soon'])('%j is no use-by to print', async (useBy) => {
    await expect(renderPackLabels([{ ...stew, useBy }])).rejects.toThrow(/Not a date/);
  });

  test.each([0, -5, 1.5, Number.NaN])('%s g is no net weight', async (netWeightG) => {
    await expect(renderPackLabels([{ ...stew, netWeightG }])).rejects.toThrow(/Not a net weight/);
  });

  test('nothing to print is a fault', async () => {
    await expect(renderPackLabels([])).rejects.toThrow(RangeError);
  });
});

describe('fitting words', () => {
  const doc = new PDFDocument({ autoFirstPage: false });
  const wordsIn = (text: FittedText): string =>
    text.lines.flatMap((line) => line.words.map((word) => word.text)).join('');
  const phrase = fc.array(fc.stringMatching(/^[A-Za-zé]{1,30}$/), { minLength: 1, maxLength: 40 });

  test('no word is lost and no line is wider or lower than the box', () => {
    const box = { widthPt: 120, heightPt: 90 };
    fc.assert(
      fc.property(phrase, phrase, (first, second) => {
        const paragraphs = [
          [
            { text: first.join(' '), font: 'Helvetica' },
            { text: second.join('  '), font: 'Helvetica-Bold' },
          ],
        ];
        const text = fitText(doc, paragraphs, box, { maxPt: 12, minPt: 4 });
        if (!text) return;
        expect(wordsIn(text)).toBe([...first, ...second].join(''));
        expect(heightOf(text)).toBeLessThanOrEqual(box.heightPt);
        for (const line of text.lines) expect(line.widthPt).toBeLessThanOrEqual(box.widthPt);
        for (const { words } of text.lines) {
          words.slice(1).forEach((word, index) => {
            const before = words[index];
            const endPt = doc
              .font(before?.font ?? '')
              .fontSize(text.sizePt)
              .widthOfString(before?.text ?? '');
            expect(word.xPt).toBeGreaterThan((before?.xPt ?? 0) + endPt);
          });
        }
      }),
      { numRuns: 60 },
    );
  });

  test('what may be cut is cut as late as possible and says so', () => {
    const box = { widthPt: 60, heightPt: 12 };
    const text = fitOrShorten(doc, { text: 'a'.repeat(90), font: 'Helvetica' }, box, { maxPt: 10, minPt: 8 });
    expect(wordsIn(text)).toMatch(/^a{8,}…$/);
    expect(heightOf(text)).toBeLessThanOrEqual(box.heightPt);
    const short = fitOrShorten(doc, { text: 'pea soup', font: 'Helvetica' }, box, { maxPt: 10, minPt: 8 });
    expect(wordsIn(short)).toBe('peasoup');
  });
});
