/**
 * Whose an arriving pack is: of a dispatch to this site, of one to another site, or of none. What somebody holds in the hand is recorded, and
 * the answer says in words where it should be. Pure.
 */
import type { AstrayRow, CarriedRow } from '../distribution/index.ts';
import type { FindingDraft, LotRow } from '../ledger/index.ts';
import type { ScanRow } from './store.ts';

export type ArrivedAs = 'expected' | 'over' | 'other-dispatch' | 'wrong-site' | 'not-sent';

export interface Arrival {
  readonly as: ArrivedAs;
  /** null: not-sent */
  readonly dispatchId: string | null;
  /** where it should be; null: here, or nobody knows */
  readonly astray: AstrayRow | null;
}

interface Pack {
  readonly lotId: string;
  readonly serial: string | null;
}

/** The line that names the pack, else one that does not say which packs; newest dispatch first. A lot without serials: any of its lines. */
export function lineOf<Row extends CarriedRow>({ lotId, serial }: Pack, rows: readonly Row[]): Row | undefined {
  const ofLot = rows.filter((row) => row.lotId === lotId);
  const named = serial === null ? undefined : ofLot.find((row) => row.serials.includes(serial));
  const open = ofLot.find((row) => row.serials.length === 0);
  return named ?? open ?? (serial === null ? ofLot[0] : undefined);
}

/** Not the line of a dispatch that has not left and does not say which packs: the pack may as well be on its way to another site. */
export const isSure = (pack: Pack, line: CarriedRow | undefined): boolean =>
  line !== undefined && (pack.serial === null || line.left || line.serials.includes(pack.serial));

/** The line to another site that a pack must be of: it names the pack, or it is the only one on the road. */
function astrayOf(pack: Pack, rows: readonly AstrayRow[], said: string | null): AstrayRow | null {
  const ofLot = rows.filter((row) => row.lotId === pack.lotId);
  const { serial } = pack;
  const named = serial === null ? undefined : ofLot.find((row) => row.serials.includes(serial));
  if (named) return named;
  const open = ofLot.filter((row) => row.state === 'departed' && (serial === null || row.serials.length === 0));
  const asSaid = open.find((row) => row.dispatchId === said);
  const dispatches = new Set(open.map((row) => row.dispatchId));
  return asSaid ?? (dispatches.size === 1 ? (open[0] ?? null) : null);
}

/**
 * @param said the dispatch that the scan names
 * @param saidIsHere it goes to this site
 * @param carried lines to this site
 * @param elsewhere lines to other sites
 */
export function arrivalOf(
  pack: Pack,
  said: string | null,
  saidIsHere: boolean,
  carried: readonly CarriedRow[],
  elsewhere: readonly AstrayRow[],
): Arrival {
  const bySaid =
    saidIsHere &&
    lineOf(
      pack,
      carried.filter((row) => row.dispatchId === said),
    );
  if (bySaid) return { as: 'expected', dispatchId: said, astray: null };
  // Of counted packs nobody can tell which dispatch they are of: what the person says holds, and the count shows that it is too much.
  if (saidIsHere && pack.serial === null) return { as: 'over', dispatchId: said, astray: null };
  const line = lineOf(pack, carried);
  const here = isSure(pack, line) ? line : undefined;
  const namedHere = here && (!saidIsHere || (pack.serial !== null && here.serials.includes(pack.serial)));
  if (namedHere)
    return { as: said === null ? 'expected' : 'other-dispatch', dispatchId: here.dispatchId, astray: null };
  const astray = astrayOf(pack, elsewhere, said);
  const byName = astray !== null && pack.serial !== null && astray.serials.includes(pack.serial);
  if (astray && (byName || !saidIsHere)) return { as: 'wrong-site', dispatchId: astray.dispatchId, astray };
  if (line && !saidIsHere)
    return { as: said === null ? 'expected' : 'other-dispatch', dispatchId: line.dispatchId, astray: null };
  const any = saidIsHere ? said : (carried.find((row) => row.lotId === pack.lotId)?.dispatchId ?? null);
  return any === null
    ? { as: 'not-sent', dispatchId: null, astray: null }
    : { as: 'over', dispatchId: any, astray: null };
}

/** For whoever holds it; null when it was expected. */
export function wordsOf({ as, astray }: Arrival, lot: LotRow | null): string | null {
  const what = lot ? `Lot ${lot.code}` : 'This crate';
  switch (as) {
    case 'expected':
      return null;
    case 'over':
      return `${what}: more than the dispatch says it carries. It is recorded; look whether another site misses it.`;
    case 'other-dispatch':
      return `${what} came with another dispatch to this site than the one named; it is recorded for that one.`;
    case 'wrong-site':
      return astray
        ? `${what} should be at ${astray.toSiteName}: dispatch ${astray.dispatchCode} carries it there. It is recorded here, set aside; keep it cold and ask the kitchen.`
        : null;
    case 'not-sent':
      return `No dispatch is known that carries ${what.toLowerCase()} here. Keep it apart and cold; it is booked when its dispatch is recorded, or record a borrowing.`;
  }
}

export function wrongSiteFinding(row: ScanRow, lot: LotRow | null, { as, astray }: Arrival): FindingDraft[] {
  if (as !== 'wrong-site' && as !== 'not-sent') return [];
  return [
    {
      kind: 'wrong-site',
      subject: row.scanId,
      siteId: row.siteId,
      lotId: lot?.lotId ?? null,
      quantity: lot ? (row.quantity ?? 1) : null,
      occurredAtMs: row.occurredAtMs,
      detail: {
        code: row.named ?? row.code,
        lotCode: lot?.code ?? null,
        serial: row.serial,
        expectedAtSiteId: astray?.toSiteId ?? null,
        expectedAt: astray?.toSiteName ?? null,
        dispatchId: astray?.dispatchId ?? null,
        dispatchCode: astray?.dispatchCode ?? null,
        factId: row.scanId,
      },
    },
  ];
}

/** One for each lot of a dispatch, however many packs of it are beeped. */
export function heldFinding(row: ScanRow, lot: LotRow, whyNot: string): FindingDraft {
  return {
    kind: 'held-on-arrival',
    subject: `${row.siteId}|${row.dispatchId ?? ''}|${lot.lotId}`,
    siteId: row.siteId,
    lotId: lot.lotId,
    quantity: null,
    occurredAtMs: row.occurredAtMs,
    detail: { lotCode: lot.code, dispatchId: row.dispatchId, whyNot, factId: row.scanId },
  };
}
