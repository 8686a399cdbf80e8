/** SVG in a PDF: drawn where it stands, and refused where something would be missing. Positions by hand from the transforms. */
import PDFDocument from 'pdfkit';
import { buffer } from 'node:stream/consumers';
import { describe, expect, test } from 'vitest';
import { registerFonts } from '../../../src/platform/pdf/fonts.ts';
import { svgDrawing } from '../../../src/platform/pdf/svg.ts';
import { pdfPages } from '../../support/pdf-text.ts';

const svg = (content: string): string =>
  `<svg xmlns="http://www.w3.org/2000/svg" width="200" height="100">${content}</svg>`;

/** The page as it is written, uncompressed. */
async function drawn(...contents: string[]): Promise<Buffer> {
  const doc = new PDFDocument({ size: [400, 400], margin: 0, compress: false });
  registerFonts(doc);
  const bytes = buffer(doc);
  svgDrawing(contents.map(svg)).draw(doc);
  doc.end();
  return bytes;
}

describe('a picture in a print', () => {
  test('has the size of its parts side by side', () => {
    const { width, height, heading } = svgDrawing([svg(''), svg('')]);
    expect([width, height, heading]).toEqual([416, 100, undefined]);
  });

  test('draws shapes with what they inherit, moved as their groups are', async () => {
    const text = (
      await drawn('<g transform="translate(10,20)" fill="#ff0000"><rect x="1" y="2" width="3" height="4"></rect></g>')
    ).toString('latin1');
    expect(text).toContain('1 0 0 1 10 20 cm');
    expect(text).toMatch(/\n1 2 3 4 re/);
    expect(text).toMatch(/\n1 0 0 scn\nf\n/);
  });

  test('draws words by line and keeps thin spaces and minus signs', async () => {
    const words =
      '<text x="5" y="1em" fill="currentColor"><tspan x="5" dy="0.5em">\u22121\u202F234.50</tspan><tspan x="5" dy="1em">two</tspan></text>';
    expect(pdfPages(await drawn(words))).toEqual(['\u22121\u202F234.50\ntwo\n']);
  });

  test.each([
    ['an element', '<ellipse cx="1" cy="1" rx="2" ry="1"></ellipse>'],
    ['an attribute', '<rect x="1" y="1" width="2" height="1" clip-path="url(#a)"></rect>'],
    ['a colour', '<rect x="1" y="1" width="2" height="1" fill="rgb(1,2,3)"></rect>'],
    ['a transform', '<g transform="skewX(3)"></g>'],
  ])('says that it cannot draw %s that it does not know', async (_, content) => {
    await expect(drawn(content)).rejects.toThrow(/is not drawn/);
  });

  test('says when there is no picture', () => {
    expect(() => svgDrawing(['<p>none</p>'])).toThrow(/no picture/);
  });
});
