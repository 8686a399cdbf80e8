/**
 * Values of EPCIS query parameters. Refusal: `epcis-query-invalid` (the standard's QueryParameterException), with the parameter's name.
 */
import { Refused } from '../errors.ts';
import { isUri, toDigitalLink } from './query-uris.ts';

export type Asked = readonly [name: string, value: string];

/** A list longer than this is a mistake, and a statement that nobody wants to plan. */
const MOST_VALUES = 100;

export function refuse([name]: Asked, why: string): Refused {
  return new Refused('epcis-query-invalid', `${name}: ${why}.`, {
    errors: [{ detail: why, pointer: `#/query/${name.replaceAll('~', '~0').replaceAll('/', '~1')}` }],
  });
}

/** Values of a list, which a pipe parts. */
export function listOf(asked: Asked): string[] {
  const values = asked[1].split('|');
  if (values.some((value) => value === '')) throw refuse(asked, 'a value of the list is empty');
  if (values.length > MOST_VALUES) throw refuse(asked, `at most ${MOST_VALUES} values`);
  return values;
}

export function listFrom(asked: Asked, allowed: readonly string[]): string[] {
  const values = listOf(asked);
  const other = values.find((value) => !allowed.includes(value));
  if (other !== undefined) throw refuse(asked, `${other} is not one of ${allowed.join(', ')}`);
  return values;
}

export function uriList(asked: Asked): string[] {
  const values = listOf(asked);
  const other = values.find((value) => !isUri(value));
  if (other !== undefined) throw refuse(asked, `${other} is not a URI`);
  return values;
}

/** URIs of things and places, as GS1 Digital Link; EPC URNs are written as such. */
export function linkList(asked: Asked): string[] {
  return uriList(asked).map((value) => {
    const link = toDigitalLink(value);
    if (link === null)
      throw refuse(asked, `${value} cannot be written as GS1 Digital Link URI, which is what is kept here`);
    return link;
  });
}

/** `*` stands for a value, as in `/01/09524000059109/10/*`, not for a domain or a kind of key: those of what is kept here are known. */
const STAR_FOR_A_VALUE = /^https:\/\/id\.gs1\.org(\/[0-9]{2,4}\/[^/]*)+$/;

/** As `linkList`, with `*` in values. */
export function patternList(asked: Asked): string[] {
  const patterns = linkList(asked);
  const other = patterns.find((pattern) => /^https?:.*\*/i.test(pattern) && !STAR_FOR_A_VALUE.test(pattern));
  if (other === undefined) return patterns;
  throw refuse(asked, `${other} is not supported: * stands for a value, as in https://id.gs1.org/00/*`);
}

const VOCABULARY = /^(?:https:\/\/(?:ref|ns)\.gs1\.org\/cbv\/[A-Za-z]+-|urn:epcglobal:cbv:[a-z]+:)(\w+)$/;

/** Words of the Core Business Vocabulary, bare as JSON has them, also when they are written out as URI; own values are URIs. */
export function wordList(asked: Asked, words: readonly string[]): string[] {
  return listOf(asked).map((value) => {
    const word = VOCABULARY.exec(value)?.[1] ?? value;
    if (words.includes(word) || isUri(word)) return word;
    throw refuse(asked, `${value} is neither a word of CBV 2.0 nor a URI`);
  });
}

const INSTANT = /^(\d{4}-\d\d-\d\d)T\d\d:\d\d:\d\d(?:\.\d{1,9})?(?:Z|[+-]\d\d:\d\d)$/;

/** RFC 3339 with offset. A plus that was sent as it is arrives as a blank; there is nothing else that it could have been. */
export function timeOf(asked: Asked): number {
  const text = asked[1].replace(/ (\d\d:\d\d)$/, '+$1');
  const atMs = INSTANT.test(text) ? Date.parse(text) : Number.NaN;
  const day = text.slice(0, 10);
  const onCalendar = !Number.isNaN(atMs) && new Date(`${day}T00:00:00Z`).toISOString().startsWith(day);
  if (!onCalendar) throw refuse(asked, 'a time with offset is wanted, such as 2026-11-25T06:40:00Z');
  return atMs;
}

export function numberOf(asked: Asked): number {
  if (!/^-?\d{1,15}(\.\d{1,9})?$/.test(asked[1])) throw refuse(asked, 'a number is wanted');
  return Number(asked[1]);
}

export function wholeOf(asked: Asked, least: number, most: number): number {
  const value = /^\d{1,9}$/.test(asked[1]) ? Number(asked[1]) : Number.NaN;
  if (!(value >= least && value <= most)) throw refuse(asked, `a whole number from ${least} to ${most} is wanted`);
  return value;
}

export function booleanOf(asked: Asked): boolean {
  if (asked[1] !== 'true' && asked[1] !== 'false') throw refuse(asked, 'true or false is wanted');
  return asked[1] === 'true';
}
