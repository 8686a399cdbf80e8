/**
 * From what a scanner read, in whatever form, to what it names: LOT, LOT/SERIAL or the code of a crate. A pack read from its plain label and
 * from its GS1 symbol is the same pack. Refusal: `scan-unreadable`.
 */
import { Refused } from '../../domain/errors.ts';
import { interpretScan, lotCandidates, rereadWith, ScanUnreadable, type ScanReading } from '../../domain/gs1/index.ts';
import type { Tx } from '../../platform/db/db.ts';
import { findItems } from '../catalogue/index.ts';
import { findLots, findLotsByCode, type LotRow } from '../ledger/index.ts';
import { listSuppliedLots } from './store-codes.ts';

/** Our own labels, read by the thousand: nothing in them could be GS1's. */
const PLAIN = /^(?!0[012]\d{14})[A-Za-z0-9!"&'*+,\-.:;<=>?_][A-Za-z0-9!"&'()*+,\-.:;<=>?_]{0,19}(\/[1-9]\d{0,5})?$/;
/** a symbology identifier of ISO/IEC 15424 in front, or a separator within: the reader says that it is GS1's */
const SAYS_GS1 = /^\](C1|d2|Q3|e0|J1|E0|E4|I0|I1)|\u001d/;

type How = 'lot-code' | 'supplier-lot-code';

export interface CodeMatch {
  /** with the separator where it was missing, when only then the lot is known */
  readonly reading: ScanReading;
  readonly lots: readonly { readonly lot: LotRow; readonly how: How }[];
  /** ours by its code, of another article than the symbol says */
  readonly otherArticle: LotRow | null;
}

export const unreadable = ({ position, reason }: ScanUnreadable): Refused =>
  new Refused('scan-unreadable', `At character ${position}: ${reason}`, { members: { position, reason } });

/** The reading as it is, then as it would be with a separator where one may be missing; those with a lot only. */
function alternatives(reading: ScanReading, readOn: string): ScanReading[] {
  const ai = reading.lotCode !== null ? '10' : '21';
  const value = reading.lotCode ?? reading.serial;
  if (value === null || reading.form === 'lot-code') return [reading];
  return lotCandidates(value).flatMap((end) => {
    if (end === value) return [reading];
    try {
      return [rereadWith(reading, ai, end, readOn)];
    } catch (error) {
      if (error instanceof ScanUnreadable || error instanceof RangeError) return [];
      throw error;
    }
  });
}

function serialFits(lot: LotRow, serial: string | null): boolean {
  return serial === null || (lot.serialised && /^[1-9]\d{0,5}$/.test(serial) && Number(serial) <= lot.quantity);
}

/** Looks up what readings name. In each: the whole lot code first, then shorter ones, as a missing separator may have swallowed what follows. */
export async function matchReadings(
  tx: Tx,
  siteId: string | null,
  readings: readonly ScanReading[],
  readOn: string,
): Promise<CodeMatch[]> {
  const choices = readings.map((reading) => alternatives(reading, readOn).filter(({ lotCode }) => lotCode !== null));
  const lotCodes = [...new Set(choices.flat().flatMap(({ lotCode }) => lotCode ?? []))];
  const own = lotCodes.length > 0 ? await findLotsByCode(tx, lotCodes) : new Map<string, LotRow>();
  const items = await findItems(tx, [...new Set([...own.values()].map((lot) => lot.itemId))]);
  const gtins = [...new Set(readings.flatMap(({ gtin, contentGtin }) => gtin ?? contentGtin ?? []))];
  const supplied = gtins.length > 0 ? await listSuppliedLots(tx, siteId, gtins, lotCodes) : [];
  const bought = await findLots(
    tx,
    supplied.map((row) => row.lotId),
  );
  const matchOf = (reading: ScanReading): CodeMatch => {
    const lot = own.get(reading.lotCode ?? '');
    const gtin = reading.gtin ?? reading.contentGtin;
    const itemGtin = lot === undefined ? null : (items.get(lot.itemId)?.gtin ?? null);
    if (lot && (gtin === null || gtin === itemGtin))
      return { reading, lots: [{ lot, how: 'lot-code' }], otherArticle: null };
    const theirs = supplied.flatMap((row) =>
      row.gtin === gtin && row.supplierLotCode === reading.lotCode ? (bought.get(row.lotId) ?? []) : [],
    );
    if (theirs.length > 0)
      return {
        reading,
        lots: theirs.map((one) => ({ lot: one, how: 'supplier-lot-code' as const })),
        otherArticle: null,
      };
    // the article has no GTIN here (yet, or any more): the code alone says which lot it is
    if (lot && itemGtin === null) return { reading, lots: [{ lot, how: 'lot-code' }], otherArticle: null };
    return { reading, lots: [], otherArticle: lot ?? null };
  };
  return readings.map((reading, at): CodeMatch => {
    const all = (choices[at] ?? []).map(matchOf);
    const known = all.filter((match) => match.lots.length > 0);
    const fits = ({ reading: { serial }, lots }: CodeMatch) => lots.some(({ lot }) => serialFits(lot, serial));
    return known.find(fits) ?? known[0] ?? all[0] ?? { reading, lots: [], otherArticle: null };
  });
}

export interface ReadCode {
  /** LOT, LOT/SERIAL or a crate's code; what was read where it names nothing known */
  readonly named: string;
  /** as the symbol says it; null: it says none */
  readonly useBy: ScanReading['useBy'];
  readonly refused: Refused | null;
  /** why no lot and no symbol can be what was read, in words; null: one can */
  readonly fault: string | null;
}

function namedBy(code: string, { reading, lots, otherArticle }: CodeMatch): string {
  if (reading.sscc !== null) return reading.sscc;
  const [only, ...others] = lots;
  if (only && others.length === 0) {
    const serial = only.how === 'lot-code' ? reading.serial : null;
    return serial === null ? only.lot.code : `${only.lot.code}/${serial}`;
  }
  if (only || otherArticle || reading.lotCode === null) return code;
  return reading.serial === null ? reading.lotCode : `${reading.lotCode}/${reading.serial}`;
}

/**
 * By code as read. Plain labels cost nothing here. A code that says it is GS1's and cannot be read is refused; any other that cannot be
 * read may still be the code of a crate, and waits for identity as ever.
 */
export async function readCodes(
  tx: Tx,
  siteId: string | null,
  codes: readonly string[],
  readOn: string,
): Promise<Map<string, ReadCode>> {
  const found = new Map<string, ReadCode>();
  const readings: { code: string; reading: ScanReading }[] = [];
  for (const code of new Set(codes)) {
    if (PLAIN.test(code)) continue;
    try {
      const reading = interpretScan(code, readOn);
      readings.push({ code, reading });
    } catch (error) {
      if (!(error instanceof ScanUnreadable)) throw error;
      found.set(code, {
        named: code,
        useBy: null,
        refused: SAYS_GS1.test(code) ? unreadable(error) : null,
        fault: `at character ${error.position}: ${error.reason}`,
      });
    }
  }
  if (readings.length === 0) return found;
  const matches = await matchReadings(
    tx,
    siteId,
    readings.map(({ reading }) => reading),
    readOn,
  );
  for (const [at, { code }] of readings.entries()) {
    const match = matches[at] as CodeMatch;
    found.set(code, { named: namedBy(code, match), useBy: match.reading.useBy, refused: null, fault: null });
  }
  return found;
}
