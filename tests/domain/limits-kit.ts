/** Lots and what they went through, as tests of limits tell them. */
import type { Segment } from '../../src/domain/exposure/shapes.ts';
import { sumsOf, totalMs } from '../../src/domain/exposure/sums.ts';
import { findPolicySet, type PolicySet, type SitePolicy } from '../../src/domain/limits/policies.ts';
import type { LotFacts, WayExposure } from '../../src/domain/limits/shapes.ts';

export const HOUR = 3_600_000;
export const at = (text: string): number => Date.parse(text);
/** 23 November 2026, six in the morning at a site in Great Britain */
export const BORN = at('2026-11-23T06:00:00Z');

export function factsOf(more: Partial<LotFacts>): LotFacts {
  return {
    bornAtMs: BORN,
    timeZone: 'Europe/London',
    printedUseByAtMs: at('2027-01-01T00:00:00Z'),
    lotUseByAtMs: null,
    anchors: {},
    origin: 'packed',
    storage: 'chilled',
    handling: 'ready-to-eat',
    cookChill: false,
    controls: [],
    born: [],
    model: null,
    input: null,
    ...more,
  };
}

export function policyFor(code: string, confirmed: readonly string[] = []): SitePolicy {
  return { set: findPolicySet(code) as PolicySet, confirmed };
}

/** Hours at °C, one after the other from birth on; a third value says that nobody looked. */
export function wayOf(
  steps: readonly (readonly [hours: number, temperatureC: number, seen?: false])[],
  more: { readonly presumedFromMs?: number | null } = {},
): WayExposure {
  const segments: Segment[] = [];
  let fromMs = BORN;
  for (const [hours, temperatureC, seen] of steps) {
    const toMs = fromMs + Math.round(hours * HOUR);
    segments.push({ fromMs, toMs, centiC: Math.round(temperatureC * 100), monitored: seen !== false, doubt: false });
    fromMs = toMs;
  }
  const sums = sumsOf(segments, 800);
  return {
    sums,
    unmonitoredMs: totalMs(sums.unmonitored),
    toMs: fromMs,
    presumedFromMs: more.presumedFromMs ?? null,
    segments,
  };
}
