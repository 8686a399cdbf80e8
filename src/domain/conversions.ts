/**
 * How long food keeps once it is opened, regenerated, cooked, frozen or thawed at a site. Why its own file: these clocks start and stop
 * with the pack in hand, and none of them may start twice. Each limit that applies is told by itself; the earliest is in force.
 *
 * No hours are invented: where an item has no life set for what was done, the lot that it came from rules, and the answer says so.
 * Freezing stops the clocks and keeps what was left; thawing starts them again with that much, never more.
 *
 * Refusals: `rule-broken` (a date that is not on the calendar).
 */
import { DateTime } from 'luxon';
import samples from '../../shared/policies/sample-defaults.json' with { type: 'json' };
import { endOfDateMs } from './birth.ts';
import { localDate } from './time.ts';
import { dateEndingAt, useByFrom, type LifeRule } from './use-by.ts';

export type ConversionKind = 'open' | 'decant' | 'portion' | 'regenerate' | 'cook' | 'freeze' | 'thaw' | 'sample';

type LimitWhy =
  | 'source-use-by'
  | 'opened-life'
  | 'regenerated-life'
  | 'frozen-life'
  | 'days-left'
  | 'time-left'
  | 'thawed-life'
  | 'item-life'
  | 'dispose-after';

interface Limit {
  readonly why: LimitWhy;
  readonly endsAtMs: number;
  /** the site's date when the end is the end of a day; null when hours rule and the time must be shown */
  readonly date: string | null;
}

/**
 * Milliseconds since the epoch, but for `frozenDaysLeft` and `frozenMsLeft`: what was left when it was frozen. They stand among the
 * anchors because anchors survive decanting, portioning and packing.
 */
export type Anchors = Readonly<Record<string, number>>;

export interface ConversionQuestion {
  readonly kind: ConversionKind;
  readonly occurredAtMs: number;
  /** IANA time zone of the site */
  readonly zone: string;
  readonly source: {
    /** in force; null: no limit */
    readonly useByAtMs: number | null;
    readonly anchors: Anchors;
    readonly handling: 'raw' | 'ready-to-eat';
  };
  /** of the source's item */
  readonly lives: {
    readonly life: LifeRule | null;
    readonly openedLifeH: number | null;
    readonly regeneratedLifeH: number | null;
    readonly frozenLifeDays: number | null;
    readonly thawedLifeH: number | null;
  };
  readonly coreTemperatureC?: number | undefined;
  /** sample: 'YYYY-MM-DD'; as long as is usual, if left out */
  readonly disposeAfter?: string | undefined;
}

export interface Converted {
  /** each that applies, the earliest first */
  readonly limits: readonly Limit[];
  readonly useBy: { readonly endsAtMs: number; readonly date: string | null } | null;
  readonly anchors: Anchors;
  readonly handling: 'raw' | 'ready-to-eat';
  readonly killStep: boolean;
  /** a date of the source that comes forward later still counts */
  readonly capsUseBy: boolean;
  /** it had been thawed and nothing has killed since */
  readonly refrozen: boolean;
  /** what was taken for granted, in words */
  readonly assumed: readonly string[];
}

const HOUR_MS = 3_600_000;

/**
 * Below this core temperature nobody calls it cooked: 60 °C for 45 minutes is the gentlest of the equivalents to 70 °C for 2 minutes that
 * the UK's Food Standards Agency gives (from memory). It only keeps a reading from counting; what a reading proves is the plan's to say.
 */
const LEAST_COOKED_C = 60;

/**
 * What is left of a life at the moment of freezing: whole calendar days between the two dates at the site, or milliseconds when the end
 * falls within a day here. A date of another time zone is rounded down to a day that ends by then. Below zero when it is past.
 */
export function leftWhenFrozen(
  frozenAtMs: number,
  useBy: { readonly endsAtMs: number; readonly isDate: boolean },
  zone: string,
): { frozenDaysLeft: number } | { frozenMsLeft: number } {
  if (!useBy.isDate) return { frozenMsLeft: useBy.endsAtMs - frozenAtMs };
  const lastDay = dateEndingAt(useBy.endsAtMs, zone) ?? plusDays(localDate(useBy.endsAtMs, zone), -1);
  const days = calendarDay(lastDay).diff(calendarDay(localDate(frozenAtMs, zone)), 'days').days;
  return { frozenDaysLeft: Math.round(days) };
}

/** The less of two; what only one of them says counts as well. */
export function lessLeft(anchors: Anchors, now: { frozenDaysLeft: number } | { frozenMsLeft: number }): Anchors {
  const less = Object.entries(now).map(([name, left]) => [name, Math.min(left, anchors[name] ?? left)]);
  return { ...anchors, ...(Object.fromEntries(less) as Anchors) };
}

const calendarDay = (date: string) => DateTime.fromISO(date, { zone: 'utc' });

function plusDays(date: string, days: number): string {
  return calendarDay(date).plus({ days }).toFormat('yyyy-MM-dd');
}

/** Which limits hold for the new lot, which of them rules, and what goes on with it. */
export function convert(question: ConversionQuestion): Converted {
  switch (question.kind) {
    case 'freeze':
      return freeze(question);
    case 'thaw':
      return thaw(question);
    case 'sample':
      return sample(question);
    default:
      return opened(question);
  }
}

/** Open, decant, portion, regenerate, cook: whatever else it is, the pack is open from now on, unless it was before. */
function opened(question: ConversionQuestion): Converted {
  const { kind, occurredAtMs, source, lives, coreTemperatureC } = question;
  const killStep = kind === 'cook' && coreTemperatureC !== undefined && coreTemperatureC >= LEAST_COOKED_C;
  const heated = kind === 'cook' || kind === 'regenerate';
  const anchors: Record<string, number> = { ...source.anchors };
  anchors.opening ??= occurredAtMs;
  if (killStep) {
    for (const name of ['opening', 'thawStart', 'regenerated', 'frozenAt', 'frozenDaysLeft', 'frozenMsLeft']) {
      delete anchors[name];
    }
    anchors.endOfCooking = occurredAtMs;
  } else if (heated) {
    anchors.regenerated ??= occurredAtMs;
  }
  const own: Limit[] = [];
  const assumed: string[] = [];
  if (!killStep) {
    own.push(...hours('opened-life', anchors.opening, lives.openedLifeH, question));
    own.push(...anchoredLife('opening', anchors, question));
  }
  if (heated) {
    own.push(...hours('regenerated-life', anchors.regenerated ?? occurredAtMs, lives.regeneratedLifeH, question));
  }
  if (heated && lives.regeneratedLifeH === null) assumed.push('No life once regenerated is set for this item.');
  if (!heated && lives.openedLifeH === null && lives.life?.anchor !== 'opening') {
    assumed.push('No life once opened is set for this item.');
  }
  if (kind === 'cook' && !killStep) {
    assumed.push(
      `No core temperature of ${LEAST_COOKED_C} °C or more is recorded: it does not count as cooked through.`,
    );
  }
  // Cooking gives no life back to what was past its date, and none where nothing says how long it keeps after.
  const inDate = source.useByAtMs === null || occurredAtMs < source.useByAtMs;
  const lifted = killStep && inDate && own.length > 0;
  if (!lifted) own.push(...sourceLimit(question));
  if (own.length === 0) assumed.push('Nothing limits how long it keeps: ask the quality lead.');
  else if (own.every((limit) => limit.why === 'source-use-by')) assumed.push('It keeps the date of what it came from.');
  const handling = killStep ? 'ready-to-eat' : source.handling;
  return born(own, { anchors, handling, killStep, capsUseBy: !lifted, refrozen: false, assumed });
}

function freeze(question: ConversionQuestion): Converted {
  const { occurredAtMs, zone, source, lives } = question;
  const { handling } = source;
  const refrozen = source.anchors.thawStart !== undefined;
  const assumed: string[] = [];
  if (source.anchors.frozenAt !== undefined) {
    assumed.push('It was frozen already; it keeps what was left then.');
    const rest = { anchors: source.anchors, handling, killStep: false, capsUseBy: true, refrozen, assumed };
    return born(sourceLimit(question), rest);
  }
  const end = source.useByAtMs;
  const isDate = end !== null && dateEndingAt(end, zone) !== null;
  const left = end === null ? {} : leftWhenFrozen(occurredAtMs, { endsAtMs: end, isDate }, zone);
  const limits: Limit[] = [];
  if (lives.frozenLifeDays === null) {
    assumed.push('No life once frozen is set for this item: no date of its own while it is frozen.');
  } else {
    limits.push(endOfDay('frozen-life', plusDays(localDate(occurredAtMs, zone), lives.frozenLifeDays), zone));
  }
  if (end === null) assumed.push('It had no use-by when it was frozen: nothing says how long it keeps once thawed.');
  const anchors = { ...source.anchors, frozenAt: occurredAtMs, ...left };
  return born(limits, { anchors, handling, killStep: false, capsUseBy: false, refrozen, assumed });
}

function thaw(question: ConversionQuestion): Converted {
  const { occurredAtMs, zone, source, lives } = question;
  const { frozenAt, frozenDaysLeft, frozenMsLeft, ...rest } = source.anchors;
  const anchors: Record<string, number> = { ...rest };
  // Thawing goes on from its first beep; only what was frozen in between begins anew.
  if (frozenAt !== undefined || anchors.thawStart === undefined) anchors.thawStart = occurredAtMs;
  // The clocks in hours stood still while it was frozen.
  if (frozenAt !== undefined) {
    for (const name of ['opening', 'regenerated'] as const) {
      const at = anchors[name];
      if (at !== undefined && at <= frozenAt) anchors[name] = at + Math.max(0, occurredAtMs - frozenAt);
    }
  }
  const limits: Limit[] = [];
  if (frozenDaysLeft !== undefined) {
    limits.push(endOfDay('days-left', plusDays(localDate(occurredAtMs, zone), frozenDaysLeft), zone));
  }
  if (frozenMsLeft !== undefined) limits.push(instant('time-left', occurredAtMs + frozenMsLeft, zone));
  limits.push(...hours('thawed-life', anchors.thawStart, lives.thawedLifeH, question));
  limits.push(...anchoredLife('thaw-start', anchors, question));
  const assumed: string[] = [];
  if (lives.thawedLifeH === null && lives.life?.anchor !== 'thaw-start') {
    assumed.push('No life once thawed is set for this item.');
  }
  limits.push(...sourceLimit(question));
  if (limits.length === 0) assumed.push('Nothing limits how long it keeps: ask the quality lead.');
  const { handling } = source;
  return born(limits, { anchors, handling, killStep: false, capsUseBy: true, refrozen: false, assumed });
}

function sample({ source, disposeAfter, occurredAtMs, zone }: ConversionQuestion): Converted {
  const { anchors, handling } = source;
  const { value, basis } = samples.keepDays;
  const last = disposeAfter ?? plusDays(localDate(occurredAtMs, zone), value);
  const usual = `Nobody said how long it is kept: ${value} days (${basis}), to be confirmed by the ${samples.keepDays.confirmBy}.`;
  const assumed = disposeAfter === undefined ? [usual] : [];
  const limits = [endOfDay('dispose-after', last, zone, '#/disposeAfter')];
  return born(limits, { anchors, handling, killStep: false, capsUseBy: false, refrozen: false, assumed });
}

function born(limits: readonly Limit[], rest: Omit<Converted, 'limits' | 'useBy'>): Converted {
  const sorted = [...limits].sort((a, b) => a.endsAtMs - b.endsAtMs);
  const first = sorted[0];
  return { ...rest, limits: sorted, useBy: first ? { endsAtMs: first.endsAtMs, date: first.date } : null };
}

function sourceLimit({ source, zone }: ConversionQuestion): Limit[] {
  return source.useByAtMs === null ? [] : [instant('source-use-by', source.useByAtMs, zone)];
}

function hours(why: LimitWhy, fromMs: number | undefined, lifeH: number | null, { zone }: ConversionQuestion): Limit[] {
  return fromMs === undefined || lifeH === null ? [] : [instant(why, fromMs + lifeH * HOUR_MS, zone)];
}

/** The item's own life, when it counts from what was done just now. */
function anchoredLife(anchor: 'opening' | 'thaw-start', anchors: Anchors, question: ConversionQuestion): Limit[] {
  const { life } = question.lives;
  if (life?.anchor !== anchor) return [];
  const end = useByFrom(life, anchors, question.zone);
  return 'refusal' in end ? [] : [{ why: 'item-life', endsAtMs: end.endsAtMs, date: end.date }];
}

function endOfDay(why: LimitWhy, date: string, zone: string, pointer = '#/occurredAt'): Limit {
  return { why, endsAtMs: endOfDateMs(date, zone, pointer), date };
}

const instant = (why: LimitWhy, endsAtMs: number, zone: string): Limit => ({
  why,
  endsAtMs,
  date: dateEndingAt(endsAtMs, zone),
});
