/** Fonts that ship with the service, so that a print looks the same on every machine. */
import { fileURLToPath } from 'node:url';
import type PDFDocument from 'pdfkit';

export type Doc = InstanceType<typeof PDFDocument>;

export const MM = 72 / 25.4;

const FONTS = {
  regular: 'DejaVuSansCondensed.ttf',
  bold: 'DejaVuSansCondensed-Bold.ttf',
  wideBold: 'DejaVuSans-Bold.ttf',
} as const;
const FONT_FOLDER = new URL('ttf/', import.meta.resolve('dejavu-fonts-ttf/package.json'));

export function registerFonts(doc: Doc): void {
  for (const [name, file] of Object.entries(FONTS)) doc.registerFont(name, fileURLToPath(new URL(file, FONT_FOLDER)));
}
