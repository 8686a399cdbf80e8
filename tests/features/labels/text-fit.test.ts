import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  fitOrShorten,
  fitText,
  heightOf,
  makeMeter,
  type FittedText,
} from '../../../src/features/labels/drawing/text-fit.ts';
import { faceOf } from '../../../src/platform/pdf/fonts.ts';

const meter = makeMeter();

describe('fitting words', () => {
  const wordsIn = (text: FittedText): string =>
    text.lines.flatMap((line) => line.words.map((word) => word.text)).join('');
  const phrase = fc.array(fc.stringMatching(/^[A-Za-zé]{1,30}$/), { minLength: 1, maxLength: 40 });
  const widthOf = (text: string, font: 'regular' | 'bold', sizePt: number): number => {
    const face = faceOf(font);
    return (face.layout(text).advanceWidth / face.unitsPerEm) * sizePt;
  };

  test('no word is lost and no line is wider or lower than the box', () => {
    const box = { widthPt: 120, heightPt: 90 };
    fc.assert(
      fc.property(phrase, phrase, (first, second) => {
        const paragraphs = [
          [
            { text: first.join(' '), font: 'regular' as const },
            { text: second.join('  '), font: 'bold' as const },
          ],
        ];
        const text = fitText(meter, paragraphs, box, { maxPt: 12, minPt: 4 });
        if (!text) return;
        expect(wordsIn(text)).toBe([...first, ...second].join(''));
        expect(heightOf(text)).toBeLessThanOrEqual(box.heightPt);
        for (const { words, widthPt } of text.lines) {
          expect(widthPt).toBeLessThanOrEqual(box.widthPt);
          words.slice(1).forEach((word, index) => {
            const before = words[index];
            if (!before) throw new Error('A word has one before it');
            const endPt = before.xPt + widthOf(before.text, before.font === 'bold' ? 'bold' : 'regular', text.sizePt);
            expect(word.xPt).toBeGreaterThan(endPt);
          });
        }
      }),
      { numRuns: 60 },
    );
  });

  test('a word is not broken while a smaller size holds it whole', () => {
    const box = { widthPt: 60, heightPt: 60 };
    const text = fitText(meter, [[{ text: 'Vegetarian', font: 'bold' }]], box, { maxPt: 30, minPt: 4 });
    expect(text?.lines.length).toBe(1);
  });

  test('what may be cut is cut as late as possible and says so', () => {
    const box = { widthPt: 60, heightPt: 12 };
    const text = fitOrShorten(meter, { text: 'a'.repeat(90), font: 'regular' }, box, { maxPt: 10, minPt: 8 });
    expect(wordsIn(text)).toMatch(/^a{8,}…$/);
    expect(heightOf(text)).toBeLessThanOrEqual(box.heightPt);
    const short = fitOrShorten(meter, { text: 'pea soup', font: 'regular' }, box, { maxPt: 10, minPt: 8 });
    expect(wordsIn(short)).toBe('peasoup');
  });
});
