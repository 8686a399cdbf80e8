/**
 * Reading scans in process: what each means, checked by every rule, against a bare loop that cuts the same texts by a table of lengths and
 * checks nothing. The loop is the least that any reading must do; the ratio says what the rules cost.
 */
import { checkDigit, elementString, interpretScan } from '../src/domain/gs1/index.ts';
import { measure, versionsOf, type Result, type Side } from './measure.ts';

const SCANS = 50_000;
/** At least 50,000 a second is asked for, which is watched; the loop cuts some millions. */
const GATE = 0.01;
const FLOOR_PER_S = 50_000;
const READ_ON = '2026-11-25';
const GS = '\u001d';
const LENGTHS: Readonly<Record<string, number>> = { '00': 18, '01': 14, '17': 6, '31': 8, '10': 0, '21': 0 };

/** Packs, crates, links and our own lot codes as readers send them: six packs of ten, two crates, a link and a lot code. */
function scansOf(seed: number): string[] {
  let state = (seed * 7919 + 1) >>> 0;
  const next = (most: number): number => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return Math.floor((state / 2 ** 32) * most);
  };
  return Array.from({ length: SCANS }, (_, at) => {
    const body = `0952${String(next(1_000_000_000)).padStart(9, '0')}`;
    const gtin = body + checkDigit(body);
    const lot = `STEW-${String(261_100 + next(30))}-${String(next(100)).padStart(2, '0')}`;
    const serial = String(1 + next(999));
    if (at % 10 === 9) return `${lot}/${serial}`;
    if (at % 10 === 8) return `https://id.gs1.org/01/${gtin}/10/${lot}/21/${serial}?17=261231`;
    if (at % 10 >= 6) {
      const crate = `1952${String(next(1_000_000_000)).padStart(13, '0')}`;
      return `]C100${crate}${checkDigit(crate)}`;
    }
    const pack = [
      { ai: '01', value: gtin },
      { ai: '17', value: '261231' },
      { ai: '3103', value: String(1 + next(5000)).padStart(6, '0') },
      { ai: '21', value: serial },
      { ai: '10', value: lot },
    ];
    return `]d2${elementString(pack, { lotLast: true })}`;
  });
}

/** Cuts and keeps, and asks nothing. */
function cut(scan: string): string[] {
  if (!scan.startsWith(']')) return scan.split(/[/?=]/);
  const elements: string[] = [];
  let at = 3;
  while (at < scan.length) {
    const length = LENGTHS[scan.slice(at, at + 2)] ?? 0;
    const gs = length > 0 ? at + 2 + length : scan.indexOf(GS, at);
    const end = gs < 0 ? scan.length : gs;
    elements.push(scan.slice(at, end));
    at = scan.charAt(end) === GS ? end + 1 : end;
  }
  return elements;
}

function sideOf(scans: readonly string[], read: (scan: string) => number): Side {
  return {
    prepare: () =>
      Promise.resolve({
        units: scans.length,
        run: () => {
          let parts = 0;
          for (const scan of scans) parts += read(scan);
          if (parts < scans.length) throw new Error('The scans were not read');
          return Promise.resolve();
        },
      }),
  };
}

export async function scanReading({
  seed,
  quick,
  say,
}: {
  seed: number;
  quick: boolean;
  say: (line: string) => void;
}): Promise<Result> {
  const scans = scansOf(seed);
  // every scan has an article, a crate or a lot: 1, whatever its form
  const ours = sideOf(scans, (scan) => {
    const { gtin, sscc, lotCode } = interpretScan(scan, READ_ON);
    return (gtin ?? sscc ?? lotCode) === null ? 0 : 1;
  });
  const measured = await measure(
    ours,
    sideOf(scans, (scan) => cut(scan).length),
    { pairs: quick ? 2 : 7, warmUps: 2 },
  );
  say(`scan-reading: ${Math.round(measured.ours.median)} a second, ratio ${measured.ratio.median.toFixed(3)}`);
  const wrong = scans[0]?.replace(/^\]d201(.)/, (_, digit: string) => `]d201${(Number(digit) + 1) % 10}`) ?? '';
  let caught = false;
  try {
    interpretScan(wrong, READ_ON);
  } catch {
    caught = true;
  }
  return {
    name: 'scan-reading',
    unit: 'scans per second',
    gate: GATE,
    passed: caught && measured.ratio.median >= GATE,
    seed,
    versions: versionsOf('none'),
    cases: { 'mixed scans': measured },
    watched: { floorPerSecond: FLOOR_PER_S, aboveFloor: measured.ours.median >= FLOOR_PER_S },
    checks: [`a planted wrong digit was ${caught ? 'refused' : 'NOT refused'}`],
  };
}
