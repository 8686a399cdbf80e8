/** At which site labels are printed, and what that site's labels look like. Refusals: `not-found`, `rule-broken`. */
import { notFound, Refused } from '../../domain/errors.ts';
import type { LabelLanguage } from '../../domain/labels/words.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import { findSites } from '../catalogue/index.ts';
import type { LayoutCode } from './drawing/index.ts';
import { findSettings, PLAIN_SETTINGS, type LabelSettings } from './settings/store.ts';

/**
 * The site named; else where the food is from, when the actor works there; else their only site.
 * @param pointer where the request names one
 */
export async function printSite(
  tx: Tx,
  scope: SiteScope,
  named: string | undefined,
  homeSiteId: string,
  pointer: string,
): Promise<string> {
  if (named !== undefined) {
    if (!(await findSites(tx, [named])).has(named) || !scope.includes(named)) throw notFound('site');
    return named;
  }
  if (scope.includes(homeSiteId)) return homeSiteId;
  const [only, second] = scope.siteIds;
  if (only !== undefined && second === undefined) return only;
  const detail = 'You work at more than one site: say at which one the labels are printed.';
  throw new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}

export interface OtherLooks {
  readonly layout?: LayoutCode | undefined;
  readonly symbol?: LabelSettings['symbol'] | undefined;
  readonly language?: LabelLanguage | undefined;
}

/** The settings of the site, but for what is asked for now. */
export async function settingsAt(tx: Tx, siteId: string, other: OtherLooks): Promise<LabelSettings> {
  const { language, layout, symbol, digitalLinkDomain } = (await findSettings(tx, siteId)) ?? PLAIN_SETTINGS;
  return {
    language: other.language ?? language,
    layout: other.layout ?? layout,
    symbol: other.symbol ?? symbol,
    digitalLinkDomain,
  };
}
