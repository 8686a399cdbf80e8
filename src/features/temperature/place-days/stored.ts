/** Days as rows, and rows as what they came to. */
import { createHash } from 'node:crypto';
import type { Sums } from '../../../domain/exposure/sums.ts';
import { THRESHOLDS_CENTI_C } from '../../../domain/exposure/sums.ts';
import { DAY_MS } from '../../../domain/exposure/shapes.ts';
import { pack } from '../../../domain/exposure/track.ts';
import type { Run } from '../../../domain/exposure/runs.ts';
import type { DayRecord } from '../../../domain/exposure/days.ts';
import { dayText } from '../../../domain/readings.ts';
import type { Monitoring, Segment } from '../../../domain/exposure/shapes.ts';
import type { StoredDay, SumsRow } from './store.ts';

const digest = (text: string): string => createHash('sha256').update(text).digest('base64url').slice(0, 22);
const hex = (segments: readonly Segment[], day: number): string =>
  `\\x${Buffer.from(pack(segments, day * DAY_MS)).toString('hex')}`;
const four = (run: Run): number[] => [run.leadingMs, run.trailingMs, run.longestMs, run.totalMs];

export function storedDay(day: number, record: DayRecord, monitoring: Monitoring): StoredDay {
  const { sums } = record;
  return {
    day: dayText(day),
    histCentiC: sums.hist.centiC,
    histMs: sums.hist.ms,
    unseenCentiC: sums.unmonitored.centiC,
    unseenMs: sums.unmonitored.ms,
    thresholdCentiC: [...THRESHOLDS_CENTI_C, monitoring.upperCentiC],
    runMs: sums.runs.flatMap(({ counted, monitored }) => [...four(counted), ...four(monitored)]),
    segments: hex(record.segments, day),
    air: record.air === null ? null : hex(record.air, day),
    lastMs: record.lastMs,
    seenCentiC: record.seenCentiC,
    seenMs: record.seenMs,
    edgeFirst: digest(record.edgeFirst),
    edgeLast: digest(record.edgeLast),
    monitoringVersion: monitoring.version,
  };
}

function runAt(ms: readonly number[], at: number): Run {
  const [leadingMs = 0, trailingMs = 0, longestMs = 0, totalMs = 0] = ms.slice(at, at + 4);
  return { leadingMs, trailingMs, longestMs, totalMs };
}

export function sumsOfRow(row: SumsRow): Sums {
  return {
    spanMs: DAY_MS,
    hist: { centiC: row.histCentiC, ms: row.histMs },
    unmonitored: { centiC: row.unseenCentiC, ms: row.unseenMs },
    runs: Array.from({ length: row.runMs.length / 8 }, (_, at) => ({
      counted: runAt(row.runMs, at * 8),
      monitored: runAt(row.runMs, at * 8 + 4),
    })),
  };
}
