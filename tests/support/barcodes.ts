/** Reads barcodes from pixels by a library that has nothing to do with the one that draws them. */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { prepareZXingModule, readBarcodes } from 'zxing-wasm/reader';

export interface ReadCode {
  /** As transmitted, separators as GS (0x1D). */
  readonly text: string;
  /** AIM identifier such as `]d2`. */
  readonly symbology: string;
}

/** Hands the library its binary, which it would otherwise fetch from elsewhere. Call once in a test file. */
export function prepareReader(): void {
  const wasm = readFileSync(createRequire(import.meta.url).resolve('zxing-wasm/reader/zxing_reader.wasm'));
  const wasmBinary = wasm.buffer.slice(wasm.byteOffset, wasm.byteOffset + wasm.byteLength);
  prepareZXingModule({ overrides: { wasmBinary } });
}

export async function readCodes(png: Buffer): Promise<ReadCode[]> {
  const formats = ['DataMatrix', 'QRCode', 'Code128'] as const;
  const found = await readBarcodes(new Uint8Array(png), { formats: [...formats], textMode: 'Plain' });
  return found
    .filter(({ isValid }) => isValid)
    .map(({ text, symbologyIdentifier }) => ({ text, symbology: symbologyIdentifier }));
}
