/**
 * Limits by models of growth. An item's own model counts only after a named person has validated it for the item, and one that rests on
 * numbers from memory never drives anything. The line of time to possible toxin is advice and nothing else.
 *
 * What is left is taken at the model's reference temperature from now on (toxin: at 8 °C, the warmest of the 10-day rule). Shares used are
 * sums over hundredths of a degree, so the order in which warm and cold came does not matter.
 */
import { factorOf } from '../life/relative-rates.ts';
import { timeToToxinH } from '../life/toxin-time.ts';
import type { Segment } from '../exposure/shapes.ts';
import { endOfDayBefore } from './days.ts';
import { HOUR_MS, type ItemModel, type Limit, type LotFacts, type WayExposure } from './shapes.ts';

/** What is left is said in whole days from two days up, else in whole hours; both rounded down. */
const IN_DAYS_FROM_H = 48;

function usedOf({ model, reference }: ItemModel, { sums }: WayExposure): number {
  const { centiC, ms } = sums.hist;
  let used = 0;
  for (let at = 0; at < centiC.length; at += 1) {
    used += ((ms[at] as number) / HOUR_MS) * factorOf(model, (centiC[at] as number) / 100, reference.temperatureC);
  }
  return used / reference.lifeH;
}

/** When the model's life was used up; null without segments, or when it was not. */
function usedUpAtMs({ model, reference }: ItemModel, { segments }: WayExposure): number | null {
  let usedH = 0;
  for (const { fromMs, toMs, centiC } of segments ?? []) {
    const rate = factorOf(model, centiC / 100, reference.temperatureC);
    const moreH = ((toMs - fromMs) / HOUR_MS) * rate;
    if (rate > 0 && usedH + moreH >= reference.lifeH) return fromMs + ((reference.lifeH - usedH) / rate) * HOUR_MS;
    usedH += moreH;
  }
  return null;
}

/** The end when so much is used at a time and it goes on at the reference temperature, rounded down to whole days or hours. */
function endByModel({ reference }: ItemModel, used: number, atMs: number, timeZone: string): number {
  const leftMs = Math.max(0, 1 - used) * reference.lifeH * HOUR_MS;
  if (leftMs >= IN_DAYS_FROM_H * HOUR_MS) return endOfDayBefore(atMs + leftMs, timeZone);
  return Math.floor((atMs + leftMs) / HOUR_MS) * HOUR_MS;
}

/** How the model's end came forward, or went back, as the food went on: after each segment. For pictures. */
export function modelEnds(
  model: ItemModel,
  segments: readonly Segment[],
  timeZone: string,
): { readonly atMs: number; readonly endsAtMs: number }[] {
  let usedH = 0;
  return segments.map(({ fromMs, toMs, centiC }) => {
    usedH += ((toMs - fromMs) / HOUR_MS) * factorOf(model.model, centiC / 100, model.reference.temperatureC);
    return { atMs: toMs, endsAtMs: endByModel(model, usedH / model.reference.lifeH, toMs, timeZone) };
  });
}

const UNSEEN = 'Nobody has seen it where it is presumed to be.';
const PROVEN: readonly ItemModel['basis'][] = ['challenge-test', 'shelf-life-study', 'published'];

export function itemModelLimit(facts: LotFacts, way: WayExposure): Limit[] {
  const { model } = facts;
  if (!model) return [];
  const used = usedOf(model, way);
  const { lifeH, temperatureC } = model.reference;
  const endsAtMs =
    used >= 1
      ? Math.floor((usedUpAtMs(model, way) ?? way.toMs) / HOUR_MS) * HOUR_MS
      : endByModel(model, used, way.toMs, facts.timeZone);
  const silent = !PROVEN.includes(model.basis)
    ? 'It rests on values from memory.'
    : way.presumedFromMs === null
      ? null
      : UNSEEN;
  return [
    {
      code: 'item-model',
      policySet: null,
      label: `Spoilage model of the item (${model.model.kind})`,
      tier: 'model',
      endsAtMs,
      sinceMs: null,
      forbids: false,
      basis: model.basis === 'from-memory' ? 'from-memory' : 'validated',
      source: `Validated by ${model.validatedBy} (${model.basis}${model.document === null ? '' : `: ${model.document}`})`,
      assumption:
        `Counted from when this lot was made; what came before is in the dates of what it was made from. From now on at ` +
        `${temperatureC} °C. Rounded down.`,
      drives: silent === null,
      presumed: silent === UNSEEN,
      whySilent: silent,
      explanation: `${percentUp(used)} % of ${lifeH} h at ${temperatureC} °C used.`,
      unmonitoredMs: way.unmonitoredMs,
      usedFraction: used,
    },
  ];
}

const TOXIN_THEN_C = 8;

/** Advisory, from memory: for vacuum-packed food that nothing else controls. Silent where it never was at 3 °C or more. */
export function toxinLimit(way: WayExposure): Limit[] {
  const { centiC, ms } = way.sums.hist;
  let used = 0;
  for (let at = 0; at < centiC.length; at += 1) {
    const hours = timeToToxinH((centiC[at] as number) / 100);
    if (hours !== null) used += (ms[at] as number) / HOUR_MS / hours;
  }
  if (used === 0) return [];
  const leftH = Math.max(0, 1 - used) * (timeToToxinH(TOXIN_THEN_C) as number);
  return [
    {
      code: 'toxin-advisory',
      policySet: null,
      label: 'Time to possible toxin of psychrotrophic C. botulinum (advice)',
      tier: 'model',
      endsAtMs: used >= 1 ? way.toMs : Math.floor((way.toMs + leftH * HOUR_MS) / HOUR_MS) * HOUR_MS,
      sinceMs: null,
      forbids: false,
      basis: 'from-memory',
      source:
        'log10(days) = 0.65 - 0.0525 T + 2.74/T, Skinner and Larkin 1998, coefficients from memory; it stays under every earliest ' +
        'observation that was read',
      assumption: `From now on at ${TOXIN_THEN_C} °C. Without a controlling factor. Nothing counts below 3 °C.`,
      drives: false,
      presumed: false,
      whySilent: 'It is advice: its coefficients are from memory, and it never drives a date or a hold.',
      explanation: `${percentUp(used)} % of that time used.`,
      unmonitoredMs: way.unmonitoredMs,
      usedFraction: used,
    },
  ];
}

function percentUp(share: number): number {
  return Math.ceil(share * 1000 - 1e-9) / 10;
}
