/** Fonts that ship with the service, so that a print looks the same on every machine. */
import { fileURLToPath } from 'node:url';
import { openSync, type Font } from 'fontkit';
import type PDFDocument from 'pdfkit';

export type Doc = InstanceType<typeof PDFDocument>;

/** Points to a millimetre. */
export const MM = 72 / 25.4;

const FONTS = {
  regular: 'DejaVuSansCondensed.ttf',
  bold: 'DejaVuSansCondensed-Bold.ttf',
  wideBold: 'DejaVuSans-Bold.ttf',
} as const;
const FONT_FOLDER = new URL('ttf/', import.meta.resolve('dejavu-fonts-ttf/package.json'));

export type FontName = keyof typeof FONTS;

const fileOf = (name: FontName): string => fileURLToPath(new URL(FONTS[name], FONT_FOLDER));

export function registerFonts(doc: Doc): void {
  for (const name of Object.keys(FONTS) as FontName[]) doc.registerFont(name, fileOf(name));
}

function openFace(name: FontName): Font {
  const face = openSync(fileOf(name));
  if (!('layout' in face)) throw new Error(`${FONTS[name]} is a collection of fonts`);
  return face;
}

/** Opened once: its tables are read when they are first needed. */
const FACES: Readonly<Record<FontName, Font>> = {
  regular: openFace('regular'),
  bold: openFace('bold'),
  wideBold: openFace('wideBold'),
};

/** The font itself: widths and outlines of letters for pens that draw no PDF. The PDF library measures by the same code. */
export function faceOf(name: FontName): Font {
  return FACES[name];
}
