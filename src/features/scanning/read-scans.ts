/** Incoming scans with their codes read: whatever the symbol, a pack is LOT/SERIAL from here on. */
import type { Refused } from '../../domain/errors.ts';
import { localDate } from '../../domain/time.ts';
import { readCodes, type ReadCode } from './codes.ts';
import type { IncomingScan, ScanWork } from './work.ts';

const QUARTER_MS = 15 * 60_000;
let known = { quarter: '', day: '' };

/** Scans come by the thousand within minutes. Offsets of zones are whole quarters of an hour, so a quarter has one date. */
export function dayAt(atMs: number, timeZone: string): string {
  const quarter = `${timeZone} ${Math.floor(atMs / QUARTER_MS)}`;
  if (quarter !== known.quarter) known = { quarter, day: localDate(atMs, timeZone) };
  return known.day;
}

/** A scan whose `code` is what was read as our own labels would say it. */
export interface ReadScan extends IncomingScan {
  readonly asRead: string;
  readonly unreadable: Refused | null;
  /** why it can only be the code of a crate, if anything */
  readonly fault: string | null;
  readonly symbolUseBy: ReadCode['useBy'];
}

export async function readScans({ tx, site, nowMs }: ScanWork, scans: readonly IncomingScan[]): Promise<ReadScan[]> {
  const codes = scans.map((scan) => scan.code);
  const readings = await readCodes(tx, site.siteId, codes, dayAt(nowMs, site.timeZone));
  return scans.map((scan): ReadScan => {
    const known = readings.get(scan.code);
    return {
      ...scan,
      asRead: scan.code,
      code: known?.named ?? scan.code,
      unreadable: known?.refused ?? null,
      fault: known?.fault ?? null,
      symbolUseBy: known?.useBy ?? null,
    };
  });
}
