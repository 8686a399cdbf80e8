/** Who there is and when things happen. All of it follows from seed, sites, days and the end. */
import { DateTime } from 'luxon';
import { exampleId } from '../../src/platform/ids.ts';

export const ZONE = 'Europe/London';
/** One kitchen cooks for about a dozen sites: common practice. */
const SITES_A_KITCHEN = 13;

export interface ScenarioSize {
  readonly sites: number;
  readonly days: number;
  readonly seed: number;
}

export interface ScenarioSite {
  readonly siteId: string;
  readonly code: string;
  readonly freezerId: string;
}

export interface ScenarioKitchen extends ScenarioSite {
  readonly packerId: string;
  readonly serves: readonly ScenarioSite[];
}

export interface Plan extends ScenarioSize {
  readonly kitchens: readonly ScenarioKitchen[];
  /** nothing happens after it */
  readonly endMs: number;
  id(name: string): string;
  /** `hour` of day `day` at the sites, 0 is the first; null when it is after the end */
  at(day: number, hour: number): string | null;
  /** YYMMDD, for lot codes */
  stamp(day: number): string;
}

export function planOf(size: ScenarioSize, endMs: number): Plan {
  const id = (name: string): string => exampleId(`scenario/${size.seed}/${name}`);
  const lastDay = DateTime.fromMillis(endMs, { zone: ZONE }).startOf('day');
  const dayOf = (day: number): DateTime => lastDay.minus({ days: size.days - 1 - day });
  const site = (code: string): ScenarioSite => ({
    siteId: id(`site/${code}`),
    code,
    freezerId: id(`place/${code}/freezer`),
  });
  const howMany = Math.max(1, Math.round(size.sites / SITES_A_KITCHEN));
  const served = Array.from({ length: size.sites - howMany }, (_, no) => site(`S${no + 1}`));
  const kitchens = Array.from({ length: howMany }, (_, no): ScenarioKitchen => {
    const code = `K${no + 1}`;
    const packerId = id(`equipment/${code}/packer`);
    return { ...site(code), packerId, serves: served.filter((_one, at) => at % howMany === no) };
  });
  return {
    ...size,
    kitchens,
    endMs,
    id,
    at(day, hour) {
      const time = dayOf(day).plus({ minutes: Math.round(hour * 60) });
      return time.toMillis() > endMs ? null : time.toUTC().toFormat("yyyy-MM-dd'T'HH:mm:ss'Z'");
    },
    stamp: (day) => dayOf(day).toFormat('yyMMdd'),
  };
}
