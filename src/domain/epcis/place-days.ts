/**
 * A day of a place's temperatures as an EPCIS event without objects: `sensor_reporting`, lowest, highest and mean over what was seen. Pure.
 * A day that readings change later is told again: the old event is declared wrong and names the one that is right.
 */
import { placeUri, type PlaceFacts, type SiteFacts } from './names.ts';
import { timeFields, type EpcisEvent, type EventDraft } from './shapes.ts';

const DAY_MS = 86_400_000;

export interface PlaceDayFacts {
  readonly place: PlaceFacts;
  readonly site: SiteFacts;
  /** YYYY-MM-DD, UTC */
  readonly day: string;
  readonly computedAtMs: number;
  /** hundredths of a degree Celsius, and how long it was so cold in ms; only what sensors saw */
  readonly centiC: readonly number[];
  readonly ms: readonly number[];
}

/** Lowest, highest and mean in °C to two decimals, the mean by time; null: nothing was seen that day. */
function valuesOf({ centiC, ms }: PlaceDayFacts): { minValue: number; maxValue: number; meanValue: number } | null {
  let seenMs = 0;
  let sum = 0;
  let min = Infinity;
  let max = -Infinity;
  centiC.forEach((value, at) => {
    const lasted = ms[at] ?? 0;
    if (lasted === 0) return;
    seenMs += lasted;
    sum += value * lasted;
    min = Math.min(min, value);
    max = Math.max(max, value);
  });
  if (seenMs === 0) return null;
  return { minValue: min / 100, maxValue: max / 100, meanValue: Math.round(sum / seenMs) / 100 };
}

/** @param version counts how often the day was told: 1 the first time */
export function placeDayEvent(
  facts: PlaceDayFacts,
  version: number,
  eventIdOf: (source: string) => string,
): EventDraft | null {
  const values = valuesOf(facts);
  if (values === null) return null;
  const { place, site, day } = facts;
  const startMs = Date.parse(`${day}T00:00:00Z`);
  const source = `day|${place.placeId}|${day}|${version}`;
  const at = { id: placeUri(place, site) };
  const event: EpcisEvent = {
    type: 'ObjectEvent',
    eventID: eventIdOf(source),
    ...timeFields(startMs + DAY_MS, site.timeZone),
    action: 'OBSERVE',
    bizStep: 'sensor_reporting',
    readPoint: at,
    bizLocation: at,
    sensorElementList: [
      {
        sensorMetadata: {
          startTime: timeFields(startMs, site.timeZone).eventTime,
          endTime: timeFields(startMs + DAY_MS, site.timeZone).eventTime,
        },
        sensorReport: [{ type: 'Temperature', uom: 'CEL', ...values }],
      },
    ],
  };
  return {
    source,
    siteIds: [site.siteId],
    lotIds: [],
    dispatchId: null,
    recordedAtMs: facts.computedAtMs,
    event,
  };
}

/** Whether two events of one day report the same. */
export function sameReport(a: EpcisEvent, b: EpcisEvent): boolean {
  const [one, other] = [a, b].map((event) => event.sensorElementList?.[0]?.sensorReport[0]);
  return ['minValue', 'maxValue', 'meanValue'].every((name) => one?.[name] === other?.[name]);
}
