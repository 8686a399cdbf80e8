/**
 * Whether a document can be captured, beyond the rules of EPCIS itself: its shape as a document, and the check digits of what its events
 * name. A mistyped number would otherwise announce food that nobody ships, or announce it to nobody.
 */
import { isValidGln, isValidGtin, isValidSscc } from '../gs1/index.ts';
import type { CapturedEvent } from './announced.ts';
import { namedBy } from './query-uris.ts';

export interface Fault {
  /** position of the event in the document */
  readonly at: number;
  /** JSON Pointer into the event, without the leading # */
  readonly pointer: string;
  readonly detail: string;
}

const TIME =
  /^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])T([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d+)?(Z|[+-]([01]\d|2[0-3]):[0-5]\d)$/;

/** RFC 3339 with offset. */
export const isEpcisTime = (value: unknown): value is string =>
  typeof value === 'string' && TIME.test(value) && !Number.isNaN(Date.parse(value));

const isObject = (value: unknown): value is Readonly<Record<string, unknown>> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** Where the events of a document are, and the pointer to them; null when it is no EPCIS document. */
export function eventsOf(document: unknown): { events: readonly unknown[]; pointer: string } | null {
  if (!isObject(document) || !isObject(document.epcisBody)) return null;
  const dated = typeof document.schemaVersion === 'string' && isEpcisTime(document.creationDate);
  if (document.type === 'EPCISDocument' && !dated) return null;
  if (document['@context'] === undefined) return null;
  const body = document.epcisBody;
  const results =
    isObject(body.queryResults) && isObject(body.queryResults.resultsBody) ? body.queryResults.resultsBody : null;
  const said: Readonly<Record<string, { list: unknown; pointer: string }>> = {
    EPCISDocument: { list: body.eventList, pointer: '#/epcisBody/eventList' },
    EPCISQueryDocument: { list: results?.eventList, pointer: '#/epcisBody/queryResults/resultsBody/eventList' },
  };
  const found =
    typeof document.type === 'string' && Object.hasOwn(said, document.type) ? said[document.type] : undefined;
  return found && Array.isArray(found.list) ? { events: found.list as unknown[], pointer: found.pointer } : null;
}

const KEYS: Readonly<Record<string, { readonly isValid: (code: string) => boolean; readonly name: string }>> = {
  '00': { isValid: isValidSscc, name: 'SSCC' },
  '01': { isValid: (code) => code.length === 14 && isValidGtin(code), name: 'GTIN' },
  '414': { isValid: isValidGln, name: 'GLN' },
  '417': { isValid: isValidGln, name: 'GLN' },
};

function faultOfUri(uri: string): string | null {
  for (const [ai, value] of namedBy(uri)) {
    const key = KEYS[ai];
    if (key && !key.isValid(value)) return `${value} is no ${key.name}: its length or check digit is not right`;
  }
  return null;
}

/** Every GS1 key in an event that is under GS1's own domain or an EPC URN, wherever it stands. */
export function checkDigitFaults(event: CapturedEvent, at: number): Fault[] {
  const faults: Fault[] = [];
  function look(value: unknown, pointer: string): void {
    if (typeof value === 'string') {
      // Under another domain `/01/` may be anything.
      const detail = /^(https?:\/\/id\.gs1\.org\/|urn:epc:)/.test(value) ? faultOfUri(value) : null;
      if (detail !== null) faults.push({ at, pointer, detail });
    } else if (Array.isArray(value)) value.forEach((one, index) => look(one, `${pointer}/${index}`));
    else if (isObject(value)) {
      for (const [name, one] of Object.entries(value))
        look(one, `${pointer}/${name.replaceAll('~', '~0').replaceAll('/', '~1')}`);
    }
  }
  look(event, '');
  return faults;
}

/** What cannot be kept or read again: control characters, lone surrogates, nesting without end. The pointer to the first, or null. */
export function unfitText(value: unknown, pointer = '#', depth = 0): string | null {
  if (typeof value === 'string') return /[\u0000-\u0008\u000b\u000c\u000e-\u001f]|\p{Cs}/u.test(value) ? pointer : null;
  if (typeof value !== 'object' || value === null) return null;
  if (depth >= 20) return pointer;
  for (const [name, one] of Object.entries(value)) {
    const found = unfitText(name, pointer, depth) ?? unfitText(one, `${pointer}/${name}`, depth + 1);
    if (found !== null) return found;
  }
  return null;
}
