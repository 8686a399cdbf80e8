import fc from 'fast-check';
import { beforeAll, describe, expect, test } from 'vitest';
import { Resvg } from '@resvg/resvg-js';
import * as drawing from '../../../src/features/labels/drawing/index.ts';
import type { CrateLabelContent, Dpi, LabelContent, LabelElement } from '../../../src/features/labels/drawing/index.ts';
import { prepareReader, readCodes } from '../../support/barcodes.ts';

const { LAYOUTS } = drawing;
const GS = '\u001d';
const DPIS: readonly Dpi[] = [203, 300, 600];

const stew: LabelContent = {
  dish: 'Beef and barley stew',
  packer: 'Jo Marsh',
  packedOn: '2026-11-25',
  useBy: '2026-11-29',
  storageInstruction: 'Keep at 0 to 3 °C. Reheat to 70 °C for 2 minutes at the core. Once open, use within 24 hours.',
  allergens: ['Barley', 'Milk', 'Celery'],
  mayContain: ['Mustard'],
  lotCode: 'STEW-261125-01',
  serial: '123',
  netWeightG: 1750,
  siteName: 'Riverside Central Kitchen',
  handling: 'ready-to-eat',
  heldNote: null,
};
/** GS1's own example of a trade item number in its demonstration range. */
const GTIN = '09501101530003';

const crate: CrateLabelContent = {
  // 0 9521 000000000001 and its check digit: 3 x (0+5+1+0+0+0+0+0+1) + (9+2+0+0+0+0+0+0) = 21 + 11 = 32, so 8
  sscc: '095210000000000018',
  boxType: 'Insulated crate',
  fromName: 'Riverside Central Kitchen',
  toName: 'Hillside Ward 3',
  dispatchCode: 'D-261125-04',
  earliestUseBy: '2026-11-27',
  storageInstruction: 'Keep at 0 to 3 °C',
  heldNote: null,
  lines: [{ itemName: 'Beef stew', lotCode: 'STEW-261125-01', quantity: '12 packs', useBy: '2026-11-29' }],
};

/** The elements as text, by hand: a separator only behind the serial, which is neither last nor of predefined length. */
const plain = (gtin: string, useBy: string, grams: number, serial: string, lot: string): string =>
  `01${gtin}17${useBy}3103${String(grams).padStart(6, '0')}21${serial}${GS}10${lot}`;

const elements = (useBy: string, grams: number, serial: string, lot: string): LabelElement[] => [
  { ai: '01', value: GTIN },
  { ai: '17', value: useBy },
  { ai: '3103', value: String(grams).padStart(6, '0') },
  { ai: '21', value: serial },
  { ai: '10', value: lot },
];

/** Every character of set 82 for lots and serials. */
const CHARACTERS = [...`!"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz`];
const code = (maxLength: number): fc.Arbitrary<string> =>
  fc.array(fc.constantFrom(...CHARACTERS), { minLength: 1, maxLength }).map((characters) => characters.join(''));
const day = fc
  .date({ min: new Date('2026-01-01'), max: new Date('2049-12-31'), noInvalidDate: true })
  .map((date) => date.toISOString().slice(0, 10));

beforeAll(prepareReader);

describe('the pixels', () => {
  const layouts = Object.values(LAYOUTS);
  const any = fc.record({
    lot: code(20),
    serial: code(20),
    grams: fc.integer({ min: 1, max: 999_999 }),
    useBy: day,
    layout: fc.constantFrom(...layouts),
    dpi: fc.constantFrom(...DPIS),
  });

  test('of any lot, serial, weight and date are read back as a GS1 DataMatrix that holds just that', async () => {
    await fc.assert(
      fc.asyncProperty(any, async ({ lot, serial, grams, useBy, layout, dpi }) => {
        const yymmdd = useBy.slice(2).replaceAll('-', '');
        const symbol = { kind: 'gs1datamatrix', elements: elements(yymmdd, grams, serial, lot) } as const;
        const label = { ...stew, lotCode: lot, serial, useBy, netWeightG: grams, symbol };
        const png = await drawing.renderLabelPng(label, layout, dpi);
        expect(await readCodes(png)).toEqual([{ symbology: ']d2', text: plain(GTIN, yymmdd, grams, serial, lot) }]);
      }),
      { numRuns: 40 },
    );
  });

  test.each(layouts.map((layout) => [layout.code, layout] as const))(
    '%s: plain codes, GS1 QR Codes and Digital Links too',
    async (_, layout) => {
      const [first, last] = [await drawing.renderLabelPng(stew, layout, 203), drawing.renderLabelSvg(stew, layout)];
      const expected = [{ symbology: ']d1', text: 'STEW-261125-01/123' }];
      expect(await readCodes(first)).toEqual(expected);
      const picture = new Resvg(last, { fitTo: { mode: 'width', value: 1200 } }).render().asPng();
      expect(await readCodes(picture)).toEqual(expected);

      expect(last).toContain(`width="${layout.widthMm}mm" height="${layout.heightMm}mm"`);

      const uri = `https://id.gs1.org/01/${GTIN}/10/STEW-261125-01/21/123?17=261129`;
      const linked = { ...stew, symbol: { kind: 'gs1qrcode-digital-link', uri } } as const;
      expect(await readCodes(await drawing.renderLabelPng(linked, layout, 300))).toEqual([
        { symbology: ']Q1', text: uri },
      ]);

      const square = { kind: 'gs1qrcode', elements: elements('261129', 1750, '123', 'STEW-261125-01') } as const;
      const [read] = await readCodes(await drawing.renderLabelPng({ ...stew, symbol: square }, layout, 300));
      expect(read).toEqual({ symbology: ']Q3', text: plain(GTIN, '261129', 1750, '123', 'STEW-261125-01') });
    },
  );

  test.each(DPIS)('of a crate hold its SSCC at %i dots to the inch', async (dpi) => {
    for (const layout of [LAYOUTS['roll-100x150'], LAYOUTS['a4-2x2']]) {
      const png = await drawing.renderCratePng(crate, layout, dpi);
      expect(await readCodes(png)).toEqual([{ symbology: ']C1', text: '00095210000000000018' }]);
    }
  });

  test('are as many as the printer has dots on the label, of one bit, with the size to print them at', async () => {
    const png = await drawing.renderLabelPng(stew, LAYOUTS['roll-100x60'], 203);
    // 8 dots to the mm: 800 x 480; bit depth 1, grey, and 8,000 dots to the metre in pHYs (ISO/IEC 15948)
    expect([png.readUInt32BE(16), png.readUInt32BE(20), png[24], png[25]]).toEqual([800, 480, 1, 0]);
    const at = png.indexOf('pHYs') + 4;
    expect([png.readUInt32BE(at), png.readUInt32BE(at + 4), png[at + 8]]).toEqual([8000, 8000, 1]);
    const fine = await drawing.renderLabelPng(stew, LAYOUTS['roll-100x60'], 300);
    // 100 mm are 1,181.1 dots of 1/300 inch
    expect([fine.readUInt32BE(16), fine.readUInt32BE(20)]).toEqual([1181, 709]);
  });
});

describe('what is refused', () => {
  const roll = LAYOUTS['roll-100x60'];
  const png = (label: LabelContent): Promise<Buffer> => drawing.renderLabelPng(label, roll, 203);
  const holding = (...list: [string, string][]): LabelContent => ({
    ...stew,
    symbol: { kind: 'gs1datamatrix', elements: list.map(([ai, value]) => ({ ai, value })) },
  });

  test.each([
    ['a wrong check digit', [['01', '09501101530004']]],
    [
      'month 13',
      [
        ['01', GTIN],
        ['17', '261331'],
      ],
    ],
    [
      'a lot of 21 characters',
      [
        ['01', GTIN],
        ['10', 'A'.repeat(21)],
      ],
    ],
    [
      'a space in a lot',
      [
        ['01', GTIN],
        ['10', 'A 1'],
      ],
    ],
    ['a lot without its item', [['10', 'A1']]],
    [
      'a weight with a count of pieces inside',
      [
        ['01', GTIN],
        ['37', '5'],
      ],
    ],
  ] as [string, [string, string][]][])('in a barcode: %s', async (_, list) => {
    await expect(async () => png(holding(...list))).rejects.toThrow(/barcode cannot hold/);
  });

  test.each(['29/11/2026', '2026-02-30', '', '2026-11-29x', 'soon'])('as a use-by: %j', async (useBy) => {
    await expect(async () => png({ ...stew, useBy })).rejects.toThrow(/Not a date/);
  });

  test.each([0, -5, 1.5, Number.NaN])('as a net weight: %s g', async (netWeightG) => {
    await expect(async () => png({ ...stew, netWeightG })).rejects.toThrow(/Not a net weight/);
  });

  test('no label, a place that is not on the sheet, a roll that no printer takes, a crate on a small label', async () => {
    await expect(drawing.renderLabelsPdf([], roll)).rejects.toThrow(/no label/);
    await expect(drawing.renderLabelsPdf([stew], LAYOUTS['a4-3x8'], { startAt: 25 })).rejects.toThrow(/1 to 24/);
    for (const [wide, high] of [
      [57, 40],
      [111, 60],
      [100, 32],
      [100, 201],
      [Number.NaN, 60],
    ] as const) {
      expect(() => drawing.customRoll(wide, high)).toThrow(RangeError);
    }
    await expect(async () => drawing.renderCratePng(crate, roll, 203)).rejects.toThrow(/crate/);
    const wrong = { ...crate, sscc: '095210000000000011' };
    await expect(async () => drawing.renderCratePng(wrong, LAYOUTS['roll-100x150'], 203)).rejects.toThrow(RangeError);
  });

  test('a texture level that is none', () => {
    expect(() => drawing.renderLabelSvg({ ...stew, textureLevel: 8 }, roll)).toThrow(/texture/);
  });
});

describe('the PDF', () => {
  const text = (pdf: Buffer): string => pdf.toString('latin1');
  const pagesOf = (pdf: Buffer): number => text(pdf).match(/\/Type \/Page\b/g)?.length ?? 0;
  const many = (count: number): LabelContent[] =>
    Array.from({ length: count }, (_, at) => ({ ...stew, serial: String(at + 1) }));

  test('has a page of true size for each label of a roll; the same labels give the same bytes', async () => {
    const pdf = await drawing.renderLabelsPdf(many(3), LAYOUTS['roll-100x60']);
    expect(pagesOf(pdf)).toBe(3);
    const box = /\/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]/.exec(text(pdf));
    // 100 mm and 60 mm in points of 1/72 inch
    expect(Number(box?.[1])).toBeCloseTo(283.46, 1);
    expect(Number(box?.[2])).toBeCloseTo(170.08, 1);
    expect((await drawing.renderLabelsPdf(many(3), LAYOUTS['roll-100x60'])).equals(pdf)).toBe(true);
  });

  test('fills sheets from the place that is free', async () => {
    const sheet = LAYOUTS['a4-3x8'];
    expect(pagesOf(await drawing.renderLabelsPdf(many(24), sheet))).toBe(1);
    expect(pagesOf(await drawing.renderLabelsPdf(many(25), sheet))).toBe(2);
    // five places are free on the first sheet, 24 on the second
    expect(pagesOf(await drawing.renderLabelsPdf(many(29), sheet, { startAt: 20 }))).toBe(2);
    expect(pagesOf(await drawing.renderLabelsPdf(many(30), sheet, { startAt: 20 }))).toBe(3);
  });

  test('takes labels as they come', async () => {
    async function* coming(): AsyncGenerator<LabelContent> {
      for (const label of many(2)) yield await Promise.resolve(label);
    }
    expect(pagesOf(await drawing.renderLabelsPdf(coming(), LAYOUTS['roll-60x40']))).toBe(2);
  });
});
