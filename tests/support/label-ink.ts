/** What a label's sketch says and where its ink is. */
import type { Mark, Sketch } from '../../src/features/labels/drawing/sketch.ts';
import { faceOf } from '../../src/platform/pdf/fonts.ts';

const MM = 72 / 25.4;

type WordsMark = Extract<Mark, { kind: 'words' }>;
export const wordsMarks = ({ marks }: Sketch): WordsMark[] => marks.filter((mark) => mark.kind === 'words');
const linesOf = (sketch: Sketch): string[] =>
  wordsMarks(sketch).flatMap(({ text }) => text.lines.map(({ words }) => words.map((word) => word.text).join(' ')));
export const saidBy = (sketch: Sketch): string => linesOf(sketch).join(' ');
export const boldIn = (sketch: Sketch): string[] =>
  wordsMarks(sketch).flatMap(({ text }) =>
    text.lines.flatMap(({ words }) => words.filter(({ font }) => font === 'bold').map((word) => word.text)),
  );

interface Rectangle {
  readonly what: string;
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
}

/** What ink a mark takes up, in mm: of words each line from the top of its capitals to its baseline. */
function inkOf(mark: Mark): Rectangle[] {
  if (mark.kind === 'box') return [];
  if (mark.kind === 'symbol') {
    // Bars go down by V; the path of a matrix is a square. White of a module belongs to a matrix, of ten to bars.
    const bars = mark.path.includes('V');
    const across = [...mark.path.matchAll(bars ? /[MH]([\d.]+)/g : /([\d.]+)/g)].map(([, figure]) => Number(figure));
    const down = bars ? [...mark.path.matchAll(/V([\d.]+)/g)].map(([, figure]) => Number(figure)) : across;
    const quiet = { across: bars ? 10 : 2, down: bars ? 0 : 2 };
    const left = mark.xMm - quiet.across * mark.mmPerUnit;
    const top = mark.yMm - quiet.down * mark.mmPerUnit;
    const right = mark.xMm + (Math.max(...across) + quiet.across) * mark.mmPerUnit;
    return [{ what: 'symbol', left, top, right, bottom: mark.yMm + (Math.max(...down) + quiet.down) * mark.mmPerUnit }];
  }
  const { text, xMm, yMm, widthMm, align } = mark;
  return text.lines.map((line, row) => {
    const lineMm = line.widthPt / MM;
    const left = xMm + (widthMm - lineMm) * { left: 0, center: 0.5, right: 1 }[align];
    const face = faceOf(line.words[0]?.font ?? 'regular');
    const baseline = yMm + (row * text.lineHeightPt + (face.ascent / face.unitsPerEm) * text.sizePt) / MM;
    const capitalMm = ((face.capHeight / face.unitsPerEm) * text.sizePt) / MM;
    const what = line.words.map((word) => word.text).join(' ');
    return { what, left, top: baseline - capitalMm, right: left + lineMm, bottom: baseline };
  });
}

/** What leaves the label or stands on something else. */
export function faultsIn(sketch: Sketch): string[] {
  const ink = sketch.marks.flatMap(inkOf);
  const outside = ink.filter(
    ({ left, top, right, bottom }) => left < -1e-6 || top < -1e-6 || right > sketch.widthMm || bottom > sketch.heightMm,
  );
  const overlapping = ink.flatMap((one, at) =>
    ink
      .slice(at + 1)
      .filter(
        (two) =>
          one.left < two.right - 0.01 &&
          two.left < one.right - 0.01 &&
          one.top < two.bottom - 0.01 &&
          two.top < one.bottom - 0.01,
      )
      .map((two) => `${one.what} on ${two.what}`),
  );
  const boxes = sketch.marks
    .filter((mark) => mark.kind === 'box')
    .filter(({ fill, lineMm }) => fill === 'black' || lineMm > 0);
  const touched = ink
    .filter(({ what }) => what === 'symbol')
    .flatMap(({ left, top, right, bottom }) =>
      boxes.filter(
        ({ area: { xMm, yMm, widthMm, heightMm } }) =>
          left < xMm + widthMm - 0.01 && xMm < right - 0.01 && top < yMm + heightMm - 0.01 && yMm < bottom - 0.01,
      ),
    );
  return [
    ...outside.map(({ what }) => `outside: ${what}`),
    ...overlapping,
    ...touched.map(() => 'a box at the symbol'),
  ];
}
