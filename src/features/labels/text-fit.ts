/**
 * Fits words into a box on a label: the largest size at which everything stands inside, wrapped between words. Why our own:
 * a label must never lose a word of its allergens, and the PDF library either overflows or cuts. Several fonts may be
 * mixed in one paragraph, so that allergens stand out in the list.
 *
 * Refusals: none. `fitText` answers null when the words do not fit at the smallest size.
 */
import type PDFDocument from 'pdfkit';

type Doc = InstanceType<typeof PDFDocument>;

/** A stretch of text in one font (a name registered with the document). */
export interface TextRun {
  text: string;
  font: string;
}

export interface TextBox {
  widthPt: number;
  heightPt: number;
}

interface PlacedWord extends TextRun {
  xPt: number;
}

/** Lines ready to draw, all at one size. */
export interface FittedText {
  sizePt: number;
  lineHeightPt: number;
  lines: { words: PlacedWord[]; widthPt: number }[];
}

const STEP_PT = 0.25;
/** Line height of the label fonts, as a multiple of the size (DejaVu: ascender + descender). */
const LINE_HEIGHT = 1.165;

/** One line of plain text: control characters and runs of space become a single space. */
function plainText(text: string): string {
  return text.replace(/[\p{Cc}\p{Zl}\p{Zp}\s]+/gu, ' ').trim();
}

/** A word with its width and that of a space, both at a size of one point: widths grow in step with the size. */
interface MeasuredWord extends TextRun {
  perPt: number;
  spacePerPt: number;
}

/** Measured at a large size, then divided, so that fractions of a point are not lost. */
const MEASURE_PT = 100;

function measure(doc: Doc, { text, font }: TextRun): number {
  return doc.font(font).fontSize(MEASURE_PT).widthOfString(text) / MEASURE_PT;
}

/** The words of each paragraph. A run begins a new word. */
function measureWords(doc: Doc, paragraphs: readonly (readonly TextRun[])[]): MeasuredWord[][] {
  const spaces = new Map<string, number>();
  const spaceOf = (font: string): number => {
    const known = spaces.get(font) ?? measure(doc, { text: ' ', font });
    spaces.set(font, known);
    return known;
  };
  return paragraphs.map((runs) =>
    runs.flatMap(({ text, font }) =>
      plainText(text)
        .split(' ')
        .filter((word) => word !== '')
        .map((word) => ({ text: word, font, perPt: measure(doc, { text: word, font }), spacePerPt: spaceOf(font) })),
    ),
  );
}

/** A word that is wider than the box by itself is broken between characters. */
function breakWord(doc: Doc, word: MeasuredWord, sizePt: number, widthPt: number): MeasuredWord[] {
  if (word.perPt * sizePt <= widthPt) return [word];
  const pieces: MeasuredWord[] = [];
  let piece = { ...word, text: '', perPt: 0 };
  for (const character of word.text) {
    const text = piece.text + character;
    const perPt = measure(doc, { text, font: word.font });
    if (piece.text !== '' && perPt * sizePt > widthPt) {
      pieces.push(piece);
      piece = { ...word, text: character, perPt: measure(doc, { text: character, font: word.font }) };
    } else {
      piece = { ...word, text, perPt };
    }
  }
  return [...pieces, piece];
}

/** Wraps measured paragraphs at one size. */
function wrap(doc: Doc, paragraphs: readonly MeasuredWord[][], sizePt: number, widthPt: number): FittedText {
  const lines: FittedText['lines'] = [];
  for (const words of paragraphs) {
    let line: FittedText['lines'][number] = { words: [], widthPt: 0 };
    for (const { text, font, perPt, spacePerPt } of words.flatMap((word) => breakWord(doc, word, sizePt, widthPt))) {
      const wordPt = perPt * sizePt;
      const spacePt = line.words.length === 0 ? 0 : spacePerPt * sizePt;
      if (line.words.length > 0 && line.widthPt + spacePt + wordPt > widthPt) {
        lines.push(line);
        line = { words: [{ text, font, xPt: 0 }], widthPt: wordPt };
      } else {
        line.words.push({ text, font, xPt: line.widthPt + spacePt });
        line.widthPt += spacePt + wordPt;
      }
    }
    if (line.words.length > 0) lines.push(line);
  }
  return { sizePt, lineHeightPt: sizePt * LINE_HEIGHT, lines };
}

/** Height of the lines together, in points. */
export function heightOf(text: FittedText): number {
  return text.lines.length * text.lineHeightPt;
}

/** The paragraphs at the largest size, from `maxPt` down to `minPt`, at which they stand in the box; null when none does. */
export function fitText(
  doc: Doc,
  paragraphs: readonly (readonly TextRun[])[],
  box: TextBox,
  { maxPt, minPt }: { maxPt: number; minPt: number },
): FittedText | null {
  const measured = measureWords(doc, paragraphs);
  for (let sizePt = maxPt; sizePt >= minPt; sizePt -= STEP_PT) {
    const text = wrap(doc, measured, sizePt, box.widthPt);
    if (heightOf(text) <= box.heightPt) return text;
  }
  return null;
}

/** Like `fitText` for one run that may be cut: at the smallest size, what does not fit gives way to an ellipsis. */
export function fitOrShorten(
  doc: Doc,
  run: TextRun,
  box: TextBox,
  sizes: { maxPt: number; minPt: number },
): FittedText {
  const whole = fitText(doc, [[run]], box, sizes);
  if (whole) return whole;
  const characters = [...plainText(run.text)];
  let fits = 0;
  let tooMany = characters.length;
  while (tooMany - fits > 1) {
    const half = Math.floor((fits + tooMany) / 2);
    if (heightOf(shortened(half)) <= box.heightPt) fits = half;
    else tooMany = half;
  }
  return shortened(fits);

  function shortened(length: number): FittedText {
    const text = `${characters.slice(0, length).join('').trimEnd()}…`;
    return wrap(doc, measureWords(doc, [[{ ...run, text }]]), sizes.minPt, box.widthPt);
  }
}

/** Draws the lines with their left top corner at the point given; `align` places them within `widthPt`. */
export function drawText(
  doc: Doc,
  text: FittedText,
  at: { xPt: number; yPt: number; widthPt: number; align?: 'left' | 'center' | 'right'; colour?: string },
): void {
  const share = at.align === 'right' ? 1 : at.align === 'center' ? 0.5 : 0;
  text.lines.forEach((line, row) => {
    const leftPt = at.xPt + (at.widthPt - line.widthPt) * share;
    for (const { text: word, font, xPt } of line.words) {
      doc
        .font(font)
        .fontSize(text.sizePt)
        .fillColor(at.colour ?? 'black')
        .text(word, leftPt + xPt, at.yPt + row * text.lineHeightPt, { lineBreak: false });
    }
  });
}
