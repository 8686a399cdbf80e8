/**
 * Computes days that wait, in the transaction that takes them off the list: a worker that dies leaves them waiting. A day that changes what the day
 * before or after takes from it takes that one along, and no other.
 */
import { RULE_VERSION } from '../../../domain/exposure/days.ts';
import { dayOf, dayText, WINDOW_DAYS } from '../../../domain/readings.ts';
import { DAY_MS } from '../../../domain/exposure/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { reconcileExcursions } from '../excursions/reconcile.ts';
import { computeDays } from './compute.ts';
import { accountsAt, markLots, wakeShelfLife } from './lots.ts';
import * as store from './store.ts';
import { storedDay } from './stored.ts';
import { loadWatches, type Watch } from './watch.ts';

/** Most days in one transaction: some 20,000 readings of two sensors. */
const MOST_DAYS = 35;

export interface Recomputed {
  readonly days: number;
  readonly lots: number;
}

const NOTHING: Recomputed = { days: 0, lots: 0 };
const numberOf = (day: string): number => dayOf(Date.parse(`${day}T00:00:00Z`));

/** Computes and keeps some days; answers those beside them that no longer fit. */
async function putDays(tx: Tx, watch: Watch, days: readonly number[], nowMs: number): Promise<number[]> {
  const old = await store.findEdges(tx, watch.subject, days.map(dayText));
  const computed = await computeDays(tx, watch, days);
  const rows = computed.flatMap((one) => (one.record ? [storedDay(one.day, one.record, one.monitoring)] : []));
  const gone = computed.flatMap((one) => (one.record || !old.has(dayText(one.day)) ? [] : [dayText(one.day)]));
  if (rows.length > 0) await store.upsertDays(tx, watch.subject, rows, { ruleVersion: RULE_VERSION, nowMs });
  if (gone.length > 0) await store.deleteDays(tx, watch.subject, gone);
  const fresh = new Map(rows.map((row) => [row.day, row]));
  const reached: number[] = [];
  for (const { day } of computed) {
    const [was, is] = [old.get(dayText(day)), fresh.get(dayText(day))];
    const forward = was?.edgeLast !== is?.edgeLast;
    const back = was?.edgeFirst !== is?.edgeFirst;
    if (!forward && !back) continue;
    const { before, after } = await store.findBeside(tx, watch.subject, dayText(day));
    if (forward && after !== null) reached.push(numberOf(after));
    if (back && before !== null) reached.push(numberOf(before));
  }
  return reached;
}

/** Stretches of days that were computed, each up to the next day with readings: what was seen last goes on until then. */
async function touchedTimes(
  tx: Tx,
  subject: string,
  days: readonly number[],
): Promise<{ fromMs: number; toMs: number }[]> {
  const out: { fromMs: number; toMs: number }[] = [];
  for (const day of [...days].sort((a, b) => a - b)) {
    const { after } = await store.findBeside(tx, subject, dayText(day));
    const [fromMs, toMs] = [day * DAY_MS, after === null ? Infinity : numberOf(after) * DAY_MS];
    const last = out.at(-1);
    if (last && last.toMs >= fromMs) last.toMs = Math.max(last.toMs, toMs);
    else out.push({ fromMs, toMs });
  }
  return out;
}

/** Lots that were there, marked for the job that looks at their lives. */
async function passOn(tx: Tx, subject: string, days: readonly number[], nowMs: number): Promise<number> {
  let lots = 0;
  for (const { fromMs, toMs } of await touchedTimes(tx, subject, days)) {
    // Nothing has happened yet beyond a day from now.
    const accounts = await accountsAt(tx, subject, fromMs, Math.min(toMs, nowMs + DAY_MS));
    lots += await markLots(tx, accounts);
  }
  if (lots > 0) await wakeShelfLife(tx);
  return lots;
}

/** Readings of days before it may be gone: what they came to stays. */
export function firstDayKept(nowMs: number): number {
  return dayOf(nowMs) - WINDOW_DAYS - 1;
}

/** Some of a subject's days that wait. Null when another worker has the subject. */
export async function recomputeSubject(tx: Tx, subject: string, nowMs: number): Promise<Recomputed | null> {
  if (!(await store.tryLockSubject(tx, subject))) return null;
  const waiting = await store.lockDirtyDays(tx, subject, MOST_DAYS);
  const watch = (await loadWatches(tx, [subject])).get(subject);
  const firstDay = firstDayKept(nowMs);
  const days = watch ? waiting.map(numberOf).filter((day) => day >= firstDay) : [];
  const done = new Set<number>();
  let next = days;
  while (watch && next.length > 0) {
    const reached = await putDays(tx, watch, next, nowMs);
    for (const day of next) done.add(day);
    next = [...new Set(reached)].filter((day) => day >= firstDay && !done.has(day));
  }
  if (waiting.length > 0) await store.deleteDirtyDays(tx, subject, waiting);
  if (!watch || done.size === 0) return NOTHING;
  await reconcileExcursions(tx, watch, [...done], nowMs);
  return { days: done.size, lots: await passOn(tx, subject, [...done], nowMs) };
}
