/**
 * A picture of black and white dots as PNG (ISO/IEC 15948), one bit to a dot, as a thermal printer prints them. Why our own: the
 * library that draws writes shades of grey in four channels and no size to print at.
 */
import { promisify } from 'node:util';
import { crc32, deflate } from 'node:zlib';

const SIGNATURE = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);
/** Half way from black to white. */
const THRESHOLD = 128;

function chunk(type: string, data: Buffer): Buffer {
  const body = Buffer.concat([Buffer.from(type, 'latin1'), data]);
  const frame = Buffer.alloc(body.length + 8);
  frame.writeUInt32BE(data.length, 0);
  body.copy(frame, 4);
  frame.writeUInt32BE(crc32(body), body.length + 4);
  return frame;
}

/**
 * @param pixels red, green, blue and alpha of each dot, row by row; only the green is looked at, the picture must be opaque
 * @param dotsPerMetre the size to print at
 */
export async function bilevelPng(pixels: Buffer, width: number, height: number, dotsPerMetre: number): Promise<Buffer> {
  const rowBytes = Math.ceil(width / 8) + 1;
  const rows = Buffer.alloc(rowBytes * height);
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      const white = (pixels[(y * width + x) * 4 + 1] ?? 0) >= THRESHOLD;
      // The first byte of a row names its filter: none.
      const at = y * rowBytes + 1 + (x >> 3);
      if (white) rows[at] = (rows[at] ?? 0) | (0x80 >> (x & 7));
    }
  }
  const header = Buffer.alloc(13);
  header.writeUInt32BE(width, 0);
  header.writeUInt32BE(height, 4);
  // One bit to a dot, shades of grey; compression, filter and interlace are 0.
  header.writeUInt8(1, 8);
  const size = Buffer.alloc(9);
  size.writeUInt32BE(Math.round(dotsPerMetre), 0);
  size.writeUInt32BE(Math.round(dotsPerMetre), 4);
  size.writeUInt8(1, 8);
  return Buffer.concat([
    SIGNATURE,
    chunk('IHDR', header),
    chunk('pHYs', size),
    chunk('IDAT', await promisify(deflate)(rows)),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}
