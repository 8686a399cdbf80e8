/**
 * Fits words into a box on a label: the largest size at which everything stands inside, wrapped between words. Why our own:
 * a label must never lose a word of its allergens, and the PDF library either overflows or cuts. Several fonts may be
 * mixed in one paragraph, so that allergens stand out in the list. Measured by the font itself, so that paper, picture and
 * screen get the same lines.
 *
 * Refusals: none. `fitText` answers null when the words do not fit at the smallest size.
 */
import { faceOf, type FontName } from '../../../platform/pdf/fonts.ts';

/** A stretch of text in one font. */
export interface TextRun {
  readonly text: string;
  readonly font: FontName;
}

export interface TextBox {
  readonly widthPt: number;
  readonly heightPt: number;
}

export interface TextSizes {
  readonly maxPt: number;
  readonly minPt: number;
}

interface PlacedWord extends TextRun {
  readonly xPt: number;
}

/** Lines ready to draw, all at one size. */
export interface FittedText {
  readonly sizePt: number;
  readonly lineHeightPt: number;
  readonly lines: readonly { readonly words: readonly PlacedWord[]; readonly widthPt: number }[];
}

export type Paragraphs = readonly (readonly TextRun[])[];

/** Width of a word at a size of one point. */
export type Meter = (text: string, font: FontName) => number;

const STEP_PT = 0.25;
/** Line height of the label fonts, as a multiple of the size (DejaVu: ascender + descender). */
const LINE_HEIGHT = 1.165;
/** Most words kept measured: the labels of one run share nearly all of theirs, a stream of many runs must not fill memory. */
const MOST_WORDS = 5000;

/** Letters, figures and signs that must be seen; what is not there to be seen (marks of direction, joiners) is left to the font. */
const SEEN = /[\p{L}\p{N}\p{P}\p{S}]/u;

/** @throws RangeError for a letter that would come out as an empty box */
function requireLetters(text: string, font: FontName): void {
  for (const letter of text) {
    if (SEEN.test(letter) && !faceOf(font).hasGlyphForCodePoint(letter.codePointAt(0) ?? 0)) {
      throw new RangeError(`The fonts of labels have no letter for ${letter}`);
    }
  }
}

/** Remembers what it measured, for one print. Throws RangeError on a letter that the font does not have. */
export function makeMeter(): Meter {
  const known = new Map<string, number>();
  return (text, font) => {
    const key = `${font} ${text}`;
    let perPt = known.get(key);
    if (perPt === undefined) {
      requireLetters(text, font);
      const face = faceOf(font);
      perPt = face.layout(text).advanceWidth / face.unitsPerEm;
      if (known.size >= MOST_WORDS) known.clear();
      known.set(key, perPt);
    }
    return perPt;
  };
}

/** One line of plain text: control characters and runs of space become a single space, which holds on to a sign of French spacing. */
function plainText(text: string): string {
  return text
    .replace(/[\p{Cc}\p{Zl}\p{Zp}\s]+/gu, ' ')
    .trim()
    .replace(/ (?=[:;!?»%](?: |$))/gu, '\u00a0');
}

/** A word with its width and that of a space, both at a size of one point: widths grow in step with the size. */
interface MeasuredWord extends TextRun {
  readonly perPt: number;
  readonly spacePerPt: number;
}

/** The words of each paragraph. A run begins a new word. */
function measureWords(meter: Meter, paragraphs: Paragraphs): MeasuredWord[][] {
  return paragraphs.map((runs) =>
    runs.flatMap(({ text, font }) =>
      plainText(text)
        .split(' ')
        .filter((word) => word !== '')
        .map((word) => ({ text: word, font, perPt: meter(word, font), spacePerPt: meter(' ', font) })),
    ),
  );
}

/** A word that is wider than the box by itself is broken between characters. */
function breakWord(meter: Meter, word: MeasuredWord, sizePt: number, widthPt: number): MeasuredWord[] {
  if (word.perPt * sizePt <= widthPt) return [word];
  const pieces: MeasuredWord[] = [];
  let piece = { ...word, text: '', perPt: 0 };
  for (const character of word.text) {
    const text = piece.text + character;
    const perPt = meter(text, word.font);
    if (piece.text !== '' && perPt * sizePt > widthPt) {
      pieces.push(piece);
      piece = { ...word, text: character, perPt: meter(character, word.font) };
    } else {
      piece = { ...word, text, perPt };
    }
  }
  return [...pieces, piece];
}

/** Wraps measured paragraphs at one size. */
function wrap(meter: Meter, paragraphs: readonly MeasuredWord[][], sizePt: number, widthPt: number): FittedText {
  const lines: { words: PlacedWord[]; widthPt: number }[] = [];
  for (const words of paragraphs) {
    let line: (typeof lines)[number] = { words: [], widthPt: 0 };
    for (const { text, font, perPt, spacePerPt } of words.flatMap((word) => breakWord(meter, word, sizePt, widthPt))) {
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

/**
 * The paragraphs at the largest size, from `maxPt` down to `minPt`, at which they stand in the box; null when none does. A word is
 * broken only where it is wider than the box at every size.
 */
export function fitText(
  meter: Meter,
  paragraphs: Paragraphs,
  box: TextBox,
  { maxPt, minPt }: TextSizes,
): FittedText | null {
  const measured = measureWords(meter, paragraphs);
  const widestPerPt = measured.flat().reduce((widest, { perPt }) => Math.max(widest, perPt), 0);
  const wholePt = box.widthPt / widestPerPt;
  // Counted in steps: adding them up would let rounding leave out the smallest size.
  const steps = Math.ceil((maxPt - minPt) / STEP_PT - 1e-9);
  const sizesPt = Array.from({ length: steps + 1 }, (_, step) => Math.max(minPt, maxPt - step * STEP_PT));
  const unbroken = sizesPt.filter((sizePt) => sizePt <= wholePt);
  for (const sizePt of unbroken.length > 0 ? unbroken : sizesPt) {
    const text = wrap(meter, measured, sizePt, box.widthPt);
    if (heightOf(text) <= box.heightPt) return text;
  }
  return null;
}

/** Like `fitText` for one run that may be cut: at the smallest size, what does not fit gives way to an ellipsis. */
export function fitOrShorten(meter: Meter, run: TextRun, box: TextBox, sizes: TextSizes): FittedText {
  const whole = fitText(meter, [[run]], box, sizes);
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
    return wrap(meter, measureWords(meter, [[{ ...run, text }]]), sizes.minPt, box.widthPt);
  }
}
