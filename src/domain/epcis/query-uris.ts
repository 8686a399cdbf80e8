/**
 * Names of things in EPCIS: GS1 Digital Link URIs are what we keep; EPC URNs are understood and written as Digital Link, which can be done
 * without looking anything up (a URN says where the company prefix ends; a Digital Link does not, so the way back is not there).
 * Source: EPC Tag Data Standard 2.0, sections on SGTIN, SSCC, SGLN, PGLN and LGTIN (from memory); the results are checked by GS1's own
 * pairs of the same example in both forms (gs1/EPCIS, WithDigitalLinkID).
 */
import { checkDigit } from '../gs1/index.ts';

const DOMAIN = 'https://id.gs1.org';

/** An absolute URI: a scheme and something after it, no blanks (RFC 3986, only as much as tells a URI from a word). */
export function isUri(text: string): boolean {
  return /^[A-Za-z][A-Za-z0-9+.-]*:[^\s]+$/.test(text);
}

const URN = /^urn:epc:(?:id|class|idpat):([a-z]+):(.+)$/;

/** Digits with their check digit, or null when they are not `length` digits. */
function checked(body: string, length: number): string | null {
  return body.length === length && /^\d+$/.test(body) ? body + checkDigit(body) : null;
}

/** GTIN-14 of a company prefix and an item reference that begins with the indicator. */
function gtinOf(prefix: string, item: string): string | null {
  return checked(item.slice(0, 1) + prefix + item.slice(1), 13);
}

/**
 * An EPC URN (identity, class or pattern with `*` for serial or lot) as GS1 Digital Link URI; anything else comes back as it is.
 * @returns null for an EPC URN that cannot be said that way
 */
export function toDigitalLink(uri: string): string | null {
  const urn = URN.exec(uri);
  if (!urn) return uri;
  const [prefix = '', second = '', ...rest] = (urn[2] ?? '').split('.');
  const third = rest.join('.');
  const gtin = gtinOf(prefix, second);
  const gln = checked(prefix + second, 12);
  if (urn[1] === 'sgtin' && gtin !== null && third !== '') return `${DOMAIN}/01/${gtin}/21/${third}`;
  if (urn[1] === 'lgtin' && gtin !== null && third !== '') return `${DOMAIN}/01/${gtin}/10/${third}`;
  if (urn[1] === 'sgln' && gln !== null && third !== '')
    return `${DOMAIN}/414/${gln}${third === '0' ? '' : `/254/${third}`}`;
  if (urn[1] === 'pgln' && gln !== null && third === '') return `${DOMAIN}/417/${gln}`;
  const sscc = checked(second.slice(0, 1) + prefix + second.slice(1), 17);
  if (urn[1] === 'sscc' && sscc !== null && third === '') return `${DOMAIN}/00/${sscc}`;
  return null;
}

/** What a GS1 Digital Link URI or EPC URN names, by application identifier; empty when it is neither. Values are decoded. */
export function namedBy(uri: string): ReadonlyMap<string, string> {
  const link = toDigitalLink(uri);
  const named = new Map<string, string>();
  const path = link === null ? undefined : /^https?:\/\/[^/?#]+(\/[^?#]*)/.exec(link)?.[1];
  if (path === undefined) return named;
  const parts = path.split('/').slice(1);
  const first = parts.findIndex((part) => ['00', '01', '414', '417'].includes(part));
  if (first < 0) return named;
  for (let at = first; at + 1 < parts.length; at += 2) {
    const value = decoded(parts[at + 1] ?? '');
    if (value === null) return new Map();
    named.set(parts[at] ?? '', value);
  }
  return named;
}

function decoded(text: string): string | null {
  try {
    const value = decodeURIComponent(text);
    // The text of the document was looked at before its percent signs were read.
    return /\p{Cc}/u.test(value) ? null : value;
  } catch {
    return null;
  }
}
