/** The account as its answer: bounded lists, with how many there are. Refusals: none. */
import type { Account, AccountLine, UnitSums } from '../../../domain/recall/account.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { AccountLineAnswer, AccountSiteAnswer } from './contract.ts';
import { findLotNames, findSiteNames, type LotNameRow, type ToldRow } from './queries.ts';

/** Lines of one site; fewer where there are many sites, so that an answer stays in the low megabytes. */
const MOST_LINES = 500;
const MOST_LINES_IN_ALL = 5_000;
const LEAST_LINES = 20;

export function unitAnswer(sums: UnitSums) {
  const { found, quarantined, destroyed, returned, alreadyServed, notFound, returnedToSupplier, ...rest } = sums;
  return {
    ...rest,
    returned: returnedToSupplier,
    typed: { found, quarantined, destroyed, returned, alreadyServed, notFound },
  };
}

function lineAnswer(line: AccountLine, names: ReadonlyMap<string, LotNameRow>): AccountLineAnswer {
  const { siteId: _siteId, unit, ...rest } = line;
  const name = names.get(line.lotId);
  return {
    ...rest,
    unit: unit as AccountLineAnswer['unit'],
    lotCode: name?.lotCode ?? '',
    itemName: name?.itemName ?? '',
  };
}

export function openLinesOf(account: Account): AccountLine[] {
  return account.lines.filter((line) => line.open > 0);
}

function bySite(lines: readonly AccountLine[]): Map<string, AccountLine[]> {
  const sites = new Map<string, AccountLine[]>();
  for (const line of lines) {
    const own = sites.get(line.siteId);
    if (own) own.push(line);
    else sites.set(line.siteId, [line]);
  }
  return sites;
}

/** Open lines of each site. */
export function openBySite(account: Account): Map<string, AccountLine[]> {
  return bySite(openLinesOf(account));
}

/** Every site that was told or has a line, by name. @param siteId this one only, also when there is nothing to say of it */
export async function siteAnswers(
  tx: Tx,
  account: Account,
  told: readonly ToldRow[],
  siteId: string | null = null,
): Promise<AccountSiteAnswer[]> {
  const lines = bySite(account.lines);
  const toldById = new Map(told.map((row) => [row.siteId, row]));
  const siteIds = siteId === null ? [...new Set([...toldById.keys(), ...lines.keys()])] : [siteId];
  const most = Math.min(MOST_LINES, Math.max(LEAST_LINES, Math.floor(MOST_LINES_IN_ALL / Math.max(1, siteIds.length))));
  const shown = new Map(
    siteIds.map((id) => {
      const own = [...(lines.get(id) ?? [])].sort((a, b) => b.open - a.open || (a.lotId < b.lotId ? -1 : 1));
      return [id, own.slice(0, most)] as const;
    }),
  );
  const names = await findLotNames(tx, [...new Set([...shown.values()].flat().map((line) => line.lotId))]);
  const siteNames = await findSiteNames(tx, siteIds);
  return siteIds
    .filter((id) => siteNames.has(id))
    .map((id): AccountSiteAnswer => {
      const row = toldById.get(id);
      const own = lines.get(id) ?? [];
      const openLineCount = own.filter((line) => line.open > 0).length;
      return {
        siteId: id,
        siteName: siteNames.get(id) ?? '',
        noticed: row !== undefined,
        noticedAt: row?.noticedAt.toISOString() ?? null,
        acknowledgedAt: row?.acknowledgedAt?.toISOString() ?? null,
        answered: row !== undefined && row.answeredAt !== null,
        accounted: openLineCount === 0,
        lineCount: own.length,
        openLineCount,
        lines: (shown.get(id) ?? []).map((line) => lineAnswer(line, names)),
      };
    })
    .sort((a, b) => (a.siteName < b.siteName ? -1 : a.siteName > b.siteName ? 1 : a.siteId < b.siteId ? -1 : 1));
}

/** `12 pieces, 3400 g` */
export function quantityText(lines: readonly AccountLine[]): string {
  const sums = new Map<string, number>();
  for (const line of lines) sums.set(line.unit, (sums.get(line.unit) ?? 0) + line.open);
  return [...sums]
    .map(([unit, sum]) => (unit === 'piece' ? `${sum} ${sum === 1 ? 'piece' : 'pieces'}` : `${sum} ${unit}`))
    .join(', ');
}
