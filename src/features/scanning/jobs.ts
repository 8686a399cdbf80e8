/** Scans that waited for identity are posted when their lot appears. */
import type { Clock } from '../../platform/clock.ts';
import type { Db } from '../../platform/db/db.ts';
import type { Ids } from '../../platform/ids.ts';
import type { Job } from '../../platform/jobs.ts';
import type { Log } from '../../platform/log.ts';
import { findSites } from '../catalogue/index.ts';
import { processScans } from './process.ts';
import { listWaiting, type ScanRow } from './store.ts';
import type { IncomingScan } from './work.ts';

const AT_ONCE = 500;

export function identifyScans(parts: { db: Db; clock: Clock; ids: Ids; log: Log }): Job {
  return {
    name: 'identify-scans',
    sweep: '* * * * *',
    async run({ groupId }) {
      await parts.db.inGroup(groupId, 'write', async (tx) => {
        const nowMs = parts.clock.nowMs();
        const waiting = await listWaiting(tx, AT_ONCE);
        const sites = await findSites(tx, [...new Set(waiting.map((scan) => scan.siteId))]);
        for (const site of sites.values()) {
          for (const actorId of new Set(waiting.map((scan) => scan.actorId))) {
            const mine = waiting.filter((scan) => scan.siteId === site.siteId && scan.actorId === actorId);
            if (mine.length === 0) continue;
            const outcomes = await processScans({ tx, ids: parts.ids, nowMs, site }, mine.map(incomingOf), {
              atomic: false,
              stored: true,
            });
            for (const outcome of outcomes) {
              if (outcome.refused)
                parts.log.warn(
                  { scanId: outcome.scanId, why: outcome.refused.detail },
                  'a waiting scan still does not post',
                );
            }
          }
        }
      });
    },
  };
}

function incomingOf(row: ScanRow): IncomingScan {
  const { temperatureC, ...note } = row.note;
  return {
    scanId: row.scanId,
    kind: row.kind,
    code: row.code,
    occurredAtMs: row.occurredAtMs,
    dispatchId: row.dispatchId ?? undefined,
    placeId: row.placeId ?? undefined,
    quantity: row.quantity ?? undefined,
    condition: row.condition ?? undefined,
    temperatureC: typeof temperatureC === 'number' ? temperatureC : undefined,
    reason: row.reason ?? undefined,
    destination: row.destination ?? undefined,
    note,
    contentHash: row.contentHash,
    clockOffsetMs: row.clockOffsetMs,
    actorId: row.actorId,
  };
}
