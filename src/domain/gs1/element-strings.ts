/**
 * Element strings: application identifiers and values one after another, GS (0x1D) where FNC1 ends a value whose length is not
 * predefined; and the same in brackets, as people read it (General Specifications 7.8; rules by the published syntax dictionary).
 *
 * A reader here tolerates a GS after a value of predefined length and one at the end, and refuses one before the first identifier
 * and two in a row, as the reference engine does.
 */
import { type Gs1Element, type Identifier, identifierAt, identifierNamed } from './identifiers.ts';
import { ScanUnreadable } from './unreadable.ts';
import { valueFault } from './values.ts';

/** What a reader transmits for FNC1 in the middle of a symbol. */
export const GS = '\u001d';
const SYMBOLOGY_IDENTIFIER = /^\](C1|d2|Q3|e0|J1)/;
const SYMBOLOGY_LENGTH = 3;
const LOT = '10';

function named(ai: string, position: number): Identifier {
  const identifier = identifierNamed(ai);
  if (identifier === undefined) throw new ScanUnreadable(position, `No application identifier is called ${ai}.`);
  return identifier;
}

function checkedValue(identifier: Identifier, value: string, position: number): Gs1Element {
  const wrong = valueFault(identifier, value);
  if (wrong !== null)
    throw new ScanUnreadable(position + wrong.at, `(${identifier.ai}) ${identifier.title}: ${wrong.reason}.`);
  return { ai: identifier.ai, value };
}

/**
 * Elements from `text[from]` to its end.
 * @throws ScanUnreadable with a position in `text`
 */
export function elementsFrom(text: string, from: number): Gs1Element[] {
  const elements: Gs1Element[] = [];
  if (from >= text.length) throw new ScanUnreadable(from, 'No data follows.');
  let at = from;
  while (at < text.length) {
    const identifier = identifierAt(text, at);
    if (identifier === undefined) throw new ScanUnreadable(at, 'No application identifier begins here.');
    const start = at + identifier.ai.length;
    let end = identifier.separator ? text.indexOf(GS, start) : start + identifier.max;
    if (end < 0 || end > text.length) end = text.length;
    elements.push(checkedValue(identifier, text.slice(start, end), start));
    at = text.charAt(end) === GS ? end + 1 : end;
  }
  return elements;
}

/**
 * Reads an element string as a reader transmits it, with GS between, with or without one of the symbology identifiers of GS1.
 * @throws ScanUnreadable
 */
export function readElementString(text: string): { elements: Gs1Element[] } {
  return { elements: elementsFrom(text, SYMBOLOGY_IDENTIFIER.test(text) ? SYMBOLOGY_LENGTH : 0) };
}

/**
 * Reads `(01)…(10)…`. A bracket inside a value is written `\(`; that is GS1's own way, because plain brackets cannot be told apart.
 * @throws ScanUnreadable with a position in `text`
 */
export function readBracketed(text: string): Gs1Element[] {
  const elements: Gs1Element[] = [];
  let at = 0;
  while (at < text.length) {
    const close = text.indexOf(')', at);
    if (text.charAt(at) !== '(' || close < 0) throw new ScanUnreadable(at, 'An identifier in brackets belongs here.');
    const identifier = named(text.slice(at + 1, close), at + 1);
    let end = close + 1;
    let value = '';
    for (; end < text.length && text.charAt(end) !== '('; end += 1) {
      if (text.startsWith('\\(', end)) end += 1;
      value += text.charAt(end);
    }
    elements.push(checkedValue(identifier, value, close + 1));
    at = end;
  }
  if (elements.length === 0) throw new ScanUnreadable(0, 'No data follows.');
  return elements;
}

/** @throws RangeError naming the first element whose identifier or value is not allowed */
export function requireElements(elements: readonly Gs1Element[]): void {
  if (elements.length === 0) throw new RangeError('An element string has at least one element');
  for (const { ai, value } of elements) {
    const identifier = identifierNamed(ai);
    if (identifier === undefined) throw new RangeError(`No application identifier is called ${ai}`);
    const wrong = valueFault(identifier, value);
    if (wrong !== null) throw new RangeError(`(${ai})${value}: ${wrong.reason}`);
  }
}

const KEYS_FIRST = ['00', '01', '02'];

function rank({ ai }: Gs1Element, lotLast: boolean): number {
  const key = KEYS_FIRST.indexOf(ai);
  if (key >= 0) return key;
  if (lotLast && ai === LOT) return KEYS_FIRST.length + 2;
  return KEYS_FIRST.length + (identifierNamed(ai)?.separator === false ? 0 : 1);
}

/**
 * In the order in which they go into a symbol: article first, predefined lengths, then the others, and the lot at the very end, where
 * a forgotten separator can do no harm.
 */
function symbolOrder(elements: readonly Gs1Element[], { lotLast }: { lotLast: boolean }): Gs1Element[] {
  return [...elements].sort((a, b) => rank(a, lotLast) - rank(b, lotLast));
}

/**
 * The element string as a symbol carries it, without the FNC1 at its beginning: GS after every value that needs it and is not last.
 * @param options lotLast puts the elements into symbol order first; without it the order stays
 * @throws RangeError for an identifier or value that is not allowed
 */
export function elementString(elements: readonly Gs1Element[], options?: { lotLast: boolean }): string {
  requireElements(elements);
  const ordered = options === undefined ? elements : symbolOrder(elements, options);
  return ordered
    .map(({ ai, value }, index) => {
      const ends = index === ordered.length - 1 || identifierNamed(ai)?.separator === false;
      return ends ? ai + value : ai + value + GS;
    })
    .join('');
}

/** For people and for typing in: `(01)…(10)…`, a bracket in a value as `\(`. */
export function bracketed(elements: readonly Gs1Element[]): string {
  return elements.map(({ ai, value }) => `(${ai})${value.replaceAll('(', '\\(')}`).join('');
}

/**
 * The same as the symbol library bwip-js reads it with `parse: true`: brackets in a value by their number.
 * @throws RangeError for an identifier or value that is not allowed
 */
export function bwipText(elements: readonly Gs1Element[]): string {
  requireElements(elements);
  return elements.map(({ ai, value }) => `(${ai})${value.replaceAll('(', '^040').replaceAll(')', '^041')}`).join('');
}
