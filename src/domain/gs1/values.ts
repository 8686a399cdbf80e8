/**
 * Whether a value fits its application identifier: lengths, characters, check digits, dates and the other rules that the published
 * dictionary names. Only the rules of one value; what must stand beside it is in associations.ts.
 *
 * Not checked, because the lists are not ours to keep: package types of UN/ECE Recommendation 21 and North American coupon layouts.
 */
import { checkDigit } from './check-digits.ts';
import { COUNTRY_LETTERS, COUNTRY_NUMBERS, CURRENCY_NUMBERS, type Identifier, type ValuePart } from './identifiers.ts';

/** What is wrong and at which character of the value, from 0. */
export interface ValueFault {
  readonly at: number;
  readonly reason: string;
}

const SETS: Readonly<Record<string, { readonly outside: RegExp; readonly words: string }>> = {
  digits: { outside: /[^0-9]/, words: 'a digit' },
  'charset-82': { outside: /[^!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]/, words: 'one of the 82 characters that GS1 allows' },
  'charset-39': { outside: /[^#\-/0-9A-Z]/, words: 'a digit, a capital letter, # - or /' },
  base64url: { outside: /[^-_0-9A-Za-z=]/, words: 'a character of base64url' },
};

const MONTH_DAYS = [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
const MONTHS = 12;
const NEVER = '';

/** A day in February of a year whose last two digits are not a leap year's is refused; the century is settled by dates.ts. */
function dayFault(text: string, zeroDay: boolean): string {
  if (!/^[0-9]+$/.test(text)) return 'a date has digits only';
  const month = Number(text.slice(-4, -2));
  const day = Number(text.slice(-2));
  if (month < 1 || month > MONTHS) return 'there is no such month';
  if (day === 0) return zeroDay ? NEVER : 'this date needs its day';
  const leap = Number(text.slice(-6, -4)) % 4 === 0;
  const days = month === 2 && !leap ? 28 : (MONTH_DAYS[month - 1] ?? 0);
  return day > days ? 'there is no such day' : NEVER;
}

const fault = (broken: boolean, reason: string): string => (broken ? reason : NEVER);
const number = (text: string, from: number, to: number, reason: string): string =>
  fault(!/^[0-9]+$/.test(text) || Number(text) < from || Number(text) > to, reason);

function pieceFault(text: string): string {
  if (text.length % 2 !== 0 || text === '') return 'piece and total have the same number of digits';
  const piece = Number(text.slice(0, text.length / 2));
  const total = Number(text.slice(text.length / 2));
  if (!/^[0-9]+$/.test(text) || piece === 0 || total === 0) return 'piece and total are at least 1';
  return fault(piece > total, 'the piece is not above the total');
}

/** ISO 13616: the first four characters go last, letters count from 10, and the rest of division by 97 is 1. */
function ibanFault(text: string): string {
  if (!/^[A-Z]{2}[0-9]{2}[0-9A-Z]+$/.test(text) || !COUNTRY_LETTERS.has(text.slice(0, 2))) return 'this is no IBAN';
  let rest = 0;
  for (const character of text.slice(4) + text.slice(0, 4)) {
    const value = Number.parseInt(character, 36);
    rest = (rest * (value > 9 ? 100 : 10) + value) % 97;
  }
  return fault(rest !== 1, 'the check digits of the IBAN are wrong');
}

const CHARACTERS_82 = '!"%&\'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz';
const PAIR_CHARACTERS = '23456789ABCDEFGHJKLMNPQRSTUVWXYZ';
const PRIMES = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83];

/** The two check characters of General Specifications 7.9.5 (rule from memory): primes from the right, modulo 1021. */
function pairFault(text: string): string {
  const body = text.slice(0, -2);
  if (body.length < 1 || body.length > PRIMES.length) return 'there is no room for its two check characters';
  let sum = 0;
  for (let index = 0; index < body.length; index += 1) {
    sum += CHARACTERS_82.indexOf(body.charAt(index)) * (PRIMES[body.length - 1 - index] ?? 0);
  }
  sum %= 1021;
  const pair = PAIR_CHARACTERS.charAt(sum >> 5) + PAIR_CHARACTERS.charAt(sum & 31);
  return fault(!text.endsWith(pair), 'the two check characters are wrong');
}

function placeFault(text: string): string {
  const [place = 0, of = 0] = /^[1-9]\/[1-9]$/.test(text) ? text.split('/').map(Number) : [];
  return fault(place === 0 || place > of, 'a place in a sequence is written as 1/3');
}

function hourMinuteFault(text: string): string {
  if (text.length !== 4) return 'a time has four digits';
  return (
    number(text.slice(0, 2), 0, 23, 'there is no such hour') || number(text.slice(2), 0, 59, 'there is no such minute')
  );
}

const two = (text: string, to: number, reason: string): string =>
  text.length === 2 ? number(text, 0, to, reason) : reason;

/** Each answers an empty text when the value is right, else why it is not. */
const CHECKS: Readonly<Record<string, (text: string) => string>> = {
  'check-digit': (text) =>
    fault(!/^[0-9]{2,}$/.test(text) || checkDigit(text.slice(0, -1)) !== text.slice(-1), 'the check digit is wrong'),
  'company-prefix-0': (text) => fault(!/^[0-9]{4}/.test(text), 'a company prefix begins with four digits'),
  'company-prefix-1': (text) => fault(!/^.[0-9]{4}/.test(text), 'a company prefix begins with four digits'),
  'day-or-month': (text) => (text.length === 6 ? dayFault(text, true) : 'a date has six digits'),
  day: (text) => (text.length === 6 ? dayFault(text, false) : 'a date has six digits'),
  'full-day': (text) => (text.length === 8 ? dayFault(text, false) : 'a date has eight digits'),
  'hour-minute': hourMinuteFault,
  hour: (text) => two(text, 23, 'there is no such hour'),
  minute: (text) => two(text, 59, 'there is no such minute'),
  second: (text) => two(text, 59, 'there is no such second'),
  country: (text) => fault(!COUNTRY_NUMBERS.has(text), 'no country has this number'),
  'country-or-999': (text) => fault(text !== '999' && !COUNTRY_NUMBERS.has(text), 'no country has this number'),
  'country-letters': (text) => fault(!COUNTRY_LETTERS.has(text), 'no country has these letters'),
  currency: (text) => fault(!CURRENCY_NUMBERS.has(text), 'no currency has this number'),
  'percent-encoded': (text) => fault(/%(?![0-9A-Fa-f]{2})/.test(text), 'after % come two hexadecimal digits'),
  minus: (text) => fault(!/^-+$/.test(text), 'only a hyphen can stand here'),
  'zero-or-one': (text) => fault(text !== '0' && text !== '1', 'only 0 or 1 can stand here'),
  zero: (text) => fault(!/^0+$/.test(text), 'only 0 can stand here'),
  'not-zero': (text) => fault(!/[1-9]/.test(text), 'zero cannot stand here'),
  'no-leading-zero': (text) => fault(text.startsWith('0'), 'it does not begin with 0'),
  'piece-of-total': pieceFault,
  'check-pair': pairFault,
  'has-letter': (text) => fault(!/[^0-9]/.test(text), 'it has at least one character that is no digit'),
  latitude: (text) => number(text, 0, 1_800_000_000, 'this is no latitude'),
  longitude: (text) => number(text, 0, 3_600_000_000, 'this is no longitude'),
  'importer-index': (text) => fault(!/^[-_0-9A-Za-z]$/.test(text), 'an importer index is one letter, digit, - or _'),
  'media-type': (text) => fault(!/^(0[1-9]|10|[89][0-9])$/.test(text), 'there is no such media type'),
  sex: (text) => fault(!/^[0129]$/.test(text), 'only 0, 1, 2 or 9 can stand here'),
  'place-in-sequence': placeFault,
  winding: (text) => fault(!/^[019]$/.test(text), 'only 0, 1 or 9 can stand here'),
  iban: ibanFault,
  'package-type': () => NEVER,
  coupon: () => NEVER,
};

/** @throws RangeError for a check that the table names and nobody wrote */
export function checkFault(check: string, text: string): string {
  const rule = CHECKS[check];
  if (rule === undefined) throw new RangeError(`No such check: ${check}`);
  return rule(text);
}

/** @throws RangeError for a set of characters that the table names and nobody wrote */
function characterFault(part: ValuePart, text: string): ValueFault | null {
  const set = SETS[part.set];
  if (set === undefined) throw new RangeError(`No such set of characters: ${part.set}`);
  const at = text.search(set.outside);
  return at < 0 ? null : { at, reason: `only ${set.words} can stand here` };
}

/** What is wrong with `value`, or null. */
export function valueFault(identifier: Identifier, value: string): ValueFault | null {
  if (value === '') return { at: 0, reason: 'the value is missing' };
  let from = 0;
  for (const part of identifier.parts) {
    if (part.optional && from === value.length) break;
    const text = value.slice(from, from + part.max);
    const wrong = characterFault(part, text);
    if (wrong) return { at: from + wrong.at, reason: wrong.reason };
    if (text.length < part.min) return { at: value.length, reason: 'the value is too short' };
    for (const check of part.checks) {
      const reason = checkFault(check, text);
      if (reason !== NEVER) return { at: from, reason };
    }
    from += text.length;
  }
  return from < value.length ? { at: from, reason: 'the value is too long' } : null;
}
