/** Where the ledger lines behind a number are. The cut is named, so that they sum to it also when more has been recorded since. */
import { ROAD } from '../../../domain/month/lines.ts';

/** In place of a destination that nobody said. */
export const NOT_SAID = 'not-said';

export interface Scope {
  readonly month: string;
  readonly throughMonth: string;
  /** null: the whole group */
  readonly siteIds: readonly string[] | null;
  readonly cut: { readonly seq: number; readonly moneyNo: number };
  readonly restated: boolean;
}

type Filter = {
  readonly itemId: string;
  readonly line?: string;
  /** a site's id, or road */
  readonly at?: string;
  readonly reason?: string;
  readonly destination?: string | null;
  readonly material?: string;
  readonly lateMonth?: string;
  readonly lateKind?: string;
};

export function linesHref(scope: Scope, filter: Filter): string {
  const params = new URLSearchParams({ month: scope.month });
  if (scope.throughMonth !== scope.month) params.set('throughMonth', scope.throughMonth);
  if (scope.siteIds !== null) params.set('site', scope.siteIds.join(','));
  if (scope.restated) params.set('restated', 'true');
  for (const [name, value] of Object.entries<string | null | undefined>(filter))
    if (value !== undefined) params.set(name, value ?? NOT_SAID);
  params.set('cut', `${scope.cut.seq}-${scope.cut.moneyNo}`);
  return `/v1/reports/waste-and-yield/lines?${params.toString()}`;
}

export const siteOrNull = (book: string): string | null => (book === ROAD ? null : book);
