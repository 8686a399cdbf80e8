/**
 * Small parts of the trace picture: escaped text, estimated text widths, wrapping, arrows. Why estimated: the picture is made
 * without a font engine and shown with whatever font the reader has, so boxes are sized for a wide one.
 *
 * Refusals: none.
 */
import type { Point } from './trace-layout.ts';

/** Widths by DejaVu Sans, about the widest of the usual screen fonts, in em; rounded up. */
const NARROW = /[iljI.,:;'|!()[\] ]/;
const WIDE = /[mwMW@%—…]/;
const CAPITAL = /[A-Z0-9&]/;

/** Estimated width of a text in pixels at a font size in pixels. */
export function textWidthPx(text: string, fontPx: number, bold = false): number {
  let em = 0;
  for (const character of text) {
    if (NARROW.test(character)) em += 0.4;
    else if (WIDE.test(character) || (character.codePointAt(0) ?? 0) > 0x2000) em += 1;
    else if (CAPITAL.test(character)) em += 0.7;
    else em += 0.62;
  }
  return em * fontPx * (bold ? 1.1 : 1);
}

/** Lines no wider than `widthPx`; breaks between words, and inside a word only when it is too wide by itself. */
export function wrapText(text: string, fontPx: number, widthPx: number, bold = false): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(/\s+/).filter((part) => part !== '')) {
    const longer = line === '' ? word : `${line} ${word}`;
    if (textWidthPx(longer, fontPx, bold) <= widthPx) {
      line = longer;
      continue;
    }
    if (line !== '') lines.push(line);
    line = '';
    for (const character of word) {
      if (line !== '' && textWidthPx(line + character, fontPx, bold) > widthPx) {
        lines.push(line);
        line = '';
      }
      line += character;
    }
  }
  return line === '' ? lines : [...lines, line];
}

const ENTITIES: Record<string, string> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&apos;' };

/** Text made safe for XML content and attributes; characters that XML 1.0 forbids become U+FFFD. */
export function escapeXml(text: string): string {
  return text
    .replace(/[^\t\n\r\u0020-\uD7FF\uE000-\uFFFD\u{10000}-\u{10FFFF}]/gu, '\uFFFD')
    .replace(/[&<>"']/g, (character) => ENTITIES[character] ?? '');
}

/** An element with attributes; children are markup already. Numbers are rounded to a tenth of a pixel. */
export function element(name: string, attributes: Record<string, string | number>, ...children: string[]): string {
  const list = Object.entries(attributes)
    .map(
      ([key, value]) =>
        ` ${key}="${typeof value === 'number' ? String(Math.round(value * 10) / 10) : escapeXml(value)}"`,
    )
    .join('');
  return children.length === 0 ? `<${name}${list}/>` : `<${name}${list}>${children.join('')}</${name}>`;
}

/** A line of text; `y` is the baseline. */
export function textElement(
  text: string,
  x: number,
  y: number,
  attributes: Record<string, string | number> = {},
): string {
  return element('text', { x, y, ...attributes }, escapeXml(text));
}

/** A smooth line through every one of the layout's points, level at each, so that a label on one of them lies on the line. */
export function edgePath(points: readonly Point[]): string {
  const [first, ...rest] = points;
  if (!first || rest.length === 0) return '';
  const at = (x: number, y: number): string => `${x.toFixed(1)} ${y.toFixed(1)}`;
  const bends = rest.map((point, index) => {
    const before = points[index] ?? first;
    const middle = (before.x + point.x) / 2;
    return `C${at(middle, before.y)} ${at(middle, point.y)} ${at(point.x, point.y)}`;
  });
  return `M${at(first.x, first.y)}${bends.join('')}`;
}
