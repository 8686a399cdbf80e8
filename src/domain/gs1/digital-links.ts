/**
 * GS1 Digital Link URIs, both ways: `https://domain[/stem]/key/value[/qualifier/value]*[?attribute=value&…]`. Lot and serial go into
 * the path in their order, dates and weights into the query. Rules as the reference engine has them; identifiers by name (`/gtin/`),
 * which are deprecated, and GTINs without their leading zeros are refused.
 */
import { requireElements } from './element-strings.ts';
import { type Gs1Element, type Identifier, identifierNamed } from './identifiers.ts';
import { ScanUnreadable } from './unreadable.ts';
import { valueFault } from './values.ts';

/** The domain of the canonical form: it points nowhere of ours and is the same whoever prints it. */
const CANONICAL = 'https://id.gs1.org';
const SCHEME = /^(https?|HTTPS?):\/\//;
const OUTSIDE_URI = /[^!#$%&'()*+,\-./0-9:;=?@A-Z[\]_a-z~]/;
const OUTSIDE_DOMAIN = /[^\-.0-9:A-Z[\]a-z]/;

/** Whether `text` begins as a web address; not yet whether it is a Digital Link. */
export function isWebAddress(text: string): boolean {
  return SCHEME.test(text);
}

/** Percent sequences that are none stay as they are; `+` is a space in the query only. */
export function linkDecoded(text: string, where: 'path' | 'query'): string {
  const spaced = where === 'query' ? text.replaceAll('+', ' ') : text;
  return spaced.replace(/%([0-9A-Fa-f]{2})/g, (_, code: string) => {
    const byte = Number.parseInt(code, 16);
    return byte < 0x80 ? String.fromCharCode(byte) : '\ufffd';
  });
}

/** Everything is written in percent sequences but letters, digits and `- . _ ~`; a space in the query as `+`. */
export function linkEncoded(text: string, where: 'path' | 'query'): string {
  const encoded = encodeURIComponent(text).replace(/[!'()*]/g, (c) => `%${c.charCodeAt(0).toString(16).toUpperCase()}`);
  return where === 'query' ? encoded.replaceAll('%20', '+') : encoded;
}

/** A piece of the address and where it begins. */
interface Piece {
  readonly text: string;
  readonly at: number;
}

function split(text: string, from: number, mark: string): Piece[] {
  let at = from;
  return text.split(mark).map((piece) => {
    const here = { text: piece, at };
    at += piece.length + mark.length;
    return here;
  });
}

function checked(identifier: Identifier, piece: Piece, where: 'path' | 'query'): Gs1Element {
  const value = linkDecoded(piece.text, where);
  const wrong = valueFault(identifier, value);
  if (wrong === null) return { ai: identifier.ai, value };
  // percent sequences move what stands behind them, so then only the value is pointed at
  const at = piece.at + (value === piece.text ? wrong.at : 0);
  throw new ScanUnreadable(at, `(${identifier.ai}) ${identifier.title}: ${wrong.reason}.`);
}

/** Pairs of identifier and value from the right to the first primary key; what stands before it is the stem. */
function pairsOf(pieces: readonly Piece[], pathAt: number): { identifier: Identifier; name: Piece; value: Piece }[] {
  const pairs: { identifier: Identifier; name: Piece; value: Piece }[] = [];
  for (let index = pieces.length - 2; index >= 0; index -= 2) {
    const [name, value] = pieces.slice(index, index + 2);
    const identifier = name && identifierNamed(name.text);
    if (!identifier || !value) break;
    pairs.unshift({ identifier, name, value });
    if (identifier.linkKey) return pairs;
  }
  throw new ScanUnreadable(pathAt, 'This web address names no article, crate or place of GS1 in its path.');
}

/** The list of qualifiers that holds all of `wanted`, in order. */
function sequenceFor(key: Identifier, wanted: readonly string[]): readonly string[] | undefined {
  return (key.linkKey ?? []).find((sequence) => {
    let from = 0;
    return wanted.every((ai) => (from = sequence.indexOf(ai, from) + 1) > 0);
  });
}

function pathElements(path: string, at: number): Gs1Element[] {
  const [first, ...rest] = pairsOf(split(path, at, '/'), at);
  if (!first) throw new ScanUnreadable(at, 'This web address has no path.');
  const wanted = rest.map(({ identifier }) => identifier.ai);
  if (wanted.length > 0 && !sequenceFor(first.identifier, wanted)) {
    const names = wanted.map((ai) => `(${ai})`).join(' ');
    throw new ScanUnreadable(rest[0]?.name.at ?? at, `${names} cannot follow (${first.identifier.ai}) in this order.`);
  }
  return [first, ...rest].map(({ identifier, value }) => checked(identifier, value, 'path'));
}

function queryElement({ text, at }: Piece, path: readonly Gs1Element[], seen: Set<string>): Gs1Element | null {
  const equals = text.indexOf('=');
  const name = equals < 0 ? '' : text.slice(0, equals);
  if (!/^[0-9]+$/.test(name)) return null;
  const identifier = identifierNamed(name);
  if (!identifier) throw new ScanUnreadable(at, `No application identifier is called ${name}.`);
  if (seen.has(name)) throw new ScanUnreadable(at, `(${name}) is there more than once.`);
  seen.add(name);
  const key = path[0] && identifierNamed(path[0].ai);
  if (!identifier.linkAttribute || key?.linkKey?.some((sequence) => sequence.includes(name))) {
    throw new ScanUnreadable(at, `(${name}) cannot stand in the query.`);
  }
  return checked(identifier, { text: text.slice(equals + 1), at: at + equals + 1 }, 'query');
}

/**
 * The elements of a Digital Link URI: key and qualifiers first, then the attributes in their order. Parameters that are no numbers are
 * left out.
 * @throws ScanUnreadable with a position in `uri`
 */
export function readDigitalLink(uri: string): Gs1Element[] {
  const scheme = SCHEME.exec(uri);
  if (!scheme) throw new ScanUnreadable(0, 'A Digital Link begins with https:// or http://.');
  const foreign = uri.search(OUTSIDE_URI);
  if (foreign >= 0) throw new ScanUnreadable(foreign, 'This character cannot stand in a web address.');
  const hash = uri.indexOf('#');
  const whole = hash < 0 ? uri : uri.slice(0, hash);
  const question = whole.indexOf('?');
  const before = question < 0 ? whole : whole.slice(0, question);
  const slash = before.indexOf('/', scheme[0].length);
  const domain = before.slice(scheme[0].length, slash < 0 ? undefined : slash);
  if (slash < 0 || domain === '') throw new ScanUnreadable(scheme[0].length, 'A Digital Link has a domain and a path.');
  const bad = domain.search(OUTSIDE_DOMAIN);
  if (bad >= 0) throw new ScanUnreadable(scheme[0].length + bad, 'This character cannot stand in a domain.');
  const path = pathElements(before.slice(slash + 1), slash + 1);
  if (question < 0) return path;
  const seen = new Set(path.map(({ ai }) => ai));
  const query = split(whole.slice(question + 1), question + 1, '&').map((piece) => queryElement(piece, path, seen));
  return path.concat(query.filter((element) => element !== null));
}

/** Each identifier once; a second one with the same value says nothing new. */
function distinct(elements: readonly Gs1Element[]): Gs1Element[] | null {
  const values = new Map<string, string>();
  for (const { ai, value } of elements) {
    if ((values.get(ai) ?? value) !== value) return null;
    values.set(ai, value);
  }
  return [...values].map(([ai, value]) => ({ ai, value }));
}

/** The URI below `domain`, or null when these elements have none. Values are taken as right. */
export function linkOf(elements: readonly Gs1Element[], domain = CANONICAL): string | null {
  const all = distinct(elements);
  const key = all?.find(({ ai }) => identifierNamed(ai)?.linkKey);
  const identifier = key && identifierNamed(key.ai);
  if (!all || !key || !identifier?.linkKey) return null;
  const possible = new Set(identifier.linkKey.flat());
  const qualifiers = all.filter(({ ai }) => possible.has(ai));
  const sequence = identifier.linkKey.find((list) => qualifiers.every(({ ai }) => list.includes(ai))) ?? [];
  if (qualifiers.some(({ ai }) => !sequence.includes(ai))) return null;
  const others = all.filter((element) => element !== key && !possible.has(element.ai));
  // predefined lengths first, as the reference engine writes them: one food, one canonical form
  const variable = ({ ai }: Gs1Element): boolean => identifierNamed(ai)?.separator !== false;
  const attributes = [...others.filter((element) => !variable(element)), ...others.filter(variable)];
  if (attributes.some(({ ai }) => identifierNamed(ai)?.linkAttribute !== true)) return null;
  const path = [key, ...qualifiers.sort((a, b) => sequence.indexOf(a.ai) - sequence.indexOf(b.ai))]
    .map(({ ai, value }) => `/${ai}/${linkEncoded(value, 'path')}`)
    .join('');
  const query = attributes.map(({ ai, value }) => `${ai}=${linkEncoded(value, 'query')}`).join('&');
  return domain.replace(/\/$/, '') + path + (query === '' ? '' : `?${query}`);
}

/**
 * The Digital Link URI of these elements, canonical (https://id.gs1.org) unless another `domain` such as `https://example.com` is given.
 * @throws RangeError when a value is wrong or there is no key, or an element has no place in a Digital Link
 */
export function digitalLink(elements: readonly Gs1Element[], domain?: string): string {
  requireElements(elements);
  const uri = linkOf(elements, domain);
  if (uri === null) throw new RangeError('These elements cannot be told as one Digital Link');
  return uri;
}
