/**
 * What things are called in EPCIS: GS1 Digital Link URIs on id.gs1.org where there is a GS1 number (CBV 2.0, section 8: from memory),
 * `urn:uuid:` of our own id where there is none. Never a GS1 URI with a number that nobody gave. Pure.
 */
import { isCharset82, isValidGln, isValidSscc } from '../gs1/index.ts';

const GS1 = 'https://id.gs1.org';

export interface LotFacts {
  readonly lotId: string;
  readonly code: string;
  readonly origin: string;
  readonly gtin: string | null;
  readonly unit: string;
  readonly serialised: boolean;
  readonly supplierLotCode: string | null;
  /** YYYY-MM-DD */
  readonly useByDate: string | null;
  readonly bestBeforeDate: string | null;
}

export interface SiteFacts {
  readonly siteId: string;
  readonly gln: string | null;
  /** IANA */
  readonly timeZone: string;
}

export interface PlaceFacts {
  readonly placeId: string;
  readonly code: string;
  readonly siteId: string;
}

export const uuidUri = (id: string): string => `urn:uuid:${id}`;

/**
 * A lot as a class. The lot number under a GTIN is its maker's: of bought food the supplier's, and where nobody recorded that one, the lot
 * has no GS1 name.
 */
export function lotUri(lot: LotFacts): string {
  const lotNumber = lot.origin === 'supplied' ? lot.supplierLotCode : lot.code;
  if (lot.gtin === null || lotNumber === null || lotNumber.length > 20 || !isCharset82(lotNumber)) {
    return uuidUri(lot.lotId);
  }
  return `${GS1}/01/${lot.gtin}/10/${encodeURIComponent(lotNumber)}`;
}

/** One pack; null where it has no GS1 name. The lot stays in it: our serial numbers are counted within a lot, not within an article. */
export function packUri(lot: LotFacts, serial: string): string | null {
  const uri = lotUri(lot);
  if (!uri.startsWith(GS1) || serial.length > 20 || !isCharset82(serial)) return null;
  return `${uri}/21/${encodeURIComponent(serial)}`;
}

/** A crate by its SSCC; null for a code of the group's own, which names nothing to anybody else. */
export const crateUri = (code: string): string | null => (isValidSscc(code) ? `${GS1}/00/${code}` : null);

export function siteUri(site: SiteFacts): string {
  return site.gln !== null && isValidGln(site.gln) ? `${GS1}/414/${site.gln}` : uuidUri(site.siteId);
}

/** AI (254) takes 20 characters; a place with a longer code goes by its id. */
export function placeUri(place: PlaceFacts, site: SiteFacts): string {
  const uri = siteUri(site);
  if (!uri.startsWith(GS1) || place.code.length > 20 || !isCharset82(place.code)) return uuidUri(place.placeId);
  return `${uri}/254/${encodeURIComponent(place.code)}`;
}

/** Codes of UN/ECE Recommendation 20; pieces have none. Quantities stay the whole numbers that the ledger has. */
export const UOM: Readonly<Record<string, string | undefined>> = { mg: 'MGM', g: 'GRM', ml: 'MLT' };
