import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { beforeAll, describe, expect, test } from 'vitest';
import { prepareZXingModule, readBarcodes } from 'zxing-wasm/reader';
import { elementString, interpretScan, readBracketed } from '../../src/domain/gs1/index.ts';
import { pictureOf, type Vector, vectorsAreThere, vectorsOf } from './vectors.ts';

/** A picture of a symbol, what it was made from, and what an independent reader took from it. */
type Picture = Omit<Vector, 'input' | 'expected'> & {
  readonly input: { readonly text: string; readonly png: string };
  readonly expected: { readonly decoded: string; readonly symbologyIdentifier: string; readonly format: string };
};
const pictures = vectorsOf('gs1.barcode.roundtrip') as Picture[];

describe.skipIf(!vectorsAreThere)('pictures of symbols', () => {
  beforeAll(() => {
    const file = createRequire(import.meta.url).resolve('zxing-wasm/reader/zxing_reader.wasm');
    const wasm = readFileSync(file);
    prepareZXingModule({
      overrides: { wasmBinary: wasm.buffer.slice(wasm.byteOffset, wasm.byteOffset + wasm.byteLength) },
    });
  });

  test('the pixels, read by another library, mean what the text in brackets says', async () => {
    console.log(`GS1 pictures read: ${pictures.length}`);
    expect(pictures.length).toBeGreaterThan(0);
    for (const { input, expected } of pictures) {
      const elements = readBracketed(input.text);
      expect(elementString(elements)).toBe(expected.decoded);
      const [found] = await readBarcodes(pictureOf(input.png), { textMode: 'Plain', tryHarder: true });
      const scan = `${found?.symbologyIdentifier ?? ''}${found?.text ?? ''}`;
      expect(scan).toBe(expected.symbologyIdentifier + expected.decoded);
      expect(interpretScan(scan, '2026-11-25').elements.map(({ ai, value }) => ({ ai, value }))).toEqual(elements);
    }
  });
});
