/** A cooling series against a rule, for a record. */
import { cool, type JudgedPoint } from './cooling.ts';
import { HOT_C, toldOf } from './cooling-rules.ts';
import type { CoolingRule, Judgement, SeriesPoint } from './shapes.ts';

export function judgeCooling(points: readonly SeriesPoint[], rule: CoolingRule): Judgement {
  const judged = cool(points, rule);
  const wrong = judged.filter(({ met }) => !met).map((point) => whatIsWrong(point, points));
  const cautions = coolingCautions(points, rule, judged);
  return {
    result: wrong.length === 0 ? 'passed' : 'failed',
    reasons: [...wrong, ...cautions],
    numbers: {
      points: judged.map(({ started: _started, ended: _ended, ...point }) => point),
      firstC: points[0]?.temperatureC ?? null,
      lastC: points.at(-1)?.temperatureC ?? null,
      seriesPoints: points.length,
    },
  };
}

/** One sentence for a point of the rule that was not met. */
export function whatIsWrong(point: JudgedPoint, points: readonly SeriesPoint[]): string {
  const { label, fromC, toC, withinMinutes, tookMinutes, leftMinutes } = point;
  const first = points[0];
  const last = points.at(-1);
  switch (point.state) {
    case 'too-slow':
      return `${label}: it took ${up(tookMinutes ?? 0)} minutes; ${withinMinutes} are allowed, so it was over by ${up(-(leftMinutes ?? 0))}.`;
    case 'not-reached':
      return `${label}: ${degrees(toC)} was not reached; the series ends at ${temperature(last)}, ${
        (leftMinutes ?? 0) < 0
          ? `${up(-(leftMinutes ?? 0))} minutes after the time was over`
          : `with ${down(leftMinutes ?? 0)} minutes left`
      }.`;
    case 'start-not-shown':
      if (fromC === null) {
        return `${label}: the series is nowhere at ${HOT_C} °C or above, so it does not show where chilling began. For food that was never hot the rule has to name a temperature to start from.`;
      }
      return `${label}: the series begins at ${temperature(first)} and is never above ${degrees(fromC)}, so it does not show when the food came down to that.`;
    case 'no-cooling':
      return `${label}: the series is never above ${degrees(toC)}, so it shows no cooling.`;
    case 'met':
      return '';
  }
}

/** What whoever relies on the judgement should know. */
export function coolingCautions(
  points: readonly SeriesPoint[],
  rule: CoolingRule,
  judged: readonly JudgedPoint[],
): string[] {
  const cautions: string[] = [];
  const first = points[0];
  if (!first) return cautions;
  if (judged.some(({ fromC, started }) => fromC === null && started !== null)) {
    cautions.push(
      `The clock begins with the first point, at ${temperature(first)}: that chilling began there is not shown by the series.`,
    );
  }
  const heated = judged.find(({ fromC, started }) => fromC !== null && started !== null && first.temperatureC < fromC);
  if (heated) {
    cautions.push(
      `The series begins at ${temperature(first)}, below ${degrees(heated.fromC)}, and rises above it later; the clock begins when it first comes down again.`,
    );
  }
  for (const { label, met, started, ended, withinMinutes } of judged) {
    if (!met || !started || !ended) continue;
    const atMostMinutes = ended.betweenMinutes[1] - started.betweenMinutes[0];
    if (atMostMinutes > withinMinutes) {
      cautions.push(
        `${label}: met by reckoning between the readings; by the readings themselves it could have taken up to ${up(atMostMinutes)} minutes, and ${withinMinutes} are allowed. Record more often.`,
      );
    }
  }
  const begins = toldOf(rule.code)?.begins;
  if (begins) cautions.push(`${begins.text} (${begins.source}.)`);
  if (rule.source.basis === 'from-memory') {
    cautions.push(`The rule is from memory: ${rule.source.source}. A competent person has to confirm it.`);
  }
  return cautions;
}

const degrees = (temperatureC: number | null): string =>
  temperatureC === null ? 'the beginning' : `${Number(temperatureC.toFixed(1))} °C`;
const temperature = (point: SeriesPoint | undefined): string => degrees(point?.temperatureC ?? null);
/** Never rounded down to a time that was overrun, nor up to one that was left. */
const up = (minutes: number): string => String(Math.ceil(minutes * 10 - 1e-6) / 10);
const down = (minutes: number): string => String(Math.floor(minutes * 10 + 1e-6) / 10);
