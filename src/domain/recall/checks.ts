/** How many of the sites that were told are to be checked (effectiveness checks, 21 CFR 7.42(b)(3)). Refusal: `rule-broken`. */
import table from '../../../shared/recalls.json' with { type: 'json' };
import { Refused } from '../errors.ts';

/** Level B is more than 10 and fewer than 100 in 100, as the case says. @param at pointer to where both stand */
export function requireLevel(level: string | undefined, percent: number | undefined, at = '#'): void {
  const broken = (detail: string, pointer: string) =>
    new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
  if (level === 'B' && percent === undefined)
    throw broken('Level B is a share between 10 and 100 in 100: say which.', `${at}/checkPercent`);
  if (percent !== undefined && (percent <= 10 || percent >= 100))
    throw broken('Level B is more than 10 and fewer than 100 in 100.', `${at}/checkPercent`);
  if (level !== 'B' && percent !== undefined)
    throw broken('Only level B says its own share, together with checkLevel.', `${at}/checkPercent`);
}

/**
 * Whole sites, rounded up: 2 in 100 of five sites is one site.
 * @param level A to E; null: none was stated, so none is needed
 * @param percent of level B
 */
export function neededSites(level: string | null, percent: number | null, sites: number): number {
  const stated = table.checkLevels.list.find((one) => one.code === level)?.leastPercent;
  const share = level === 'B' ? (percent ?? 0) : (stated ?? 0);
  return Math.ceil((sites * share) / 100);
}
