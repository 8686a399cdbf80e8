/** SQL on effectiveness checks. */
import { neededSites } from '../../../domain/recall/checks.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { readInForce } from '../statements/store.ts';

export interface CheckDraft {
  readonly checkId: string;
  readonly recallId: string;
  readonly siteId: string;
  readonly method: string;
  readonly effective: boolean;
  readonly checkedAtMs: number;
  readonly recordedBy: string;
  readonly note: string | null;
}

export async function insertCheck(tx: Tx, check: CheckDraft, nowMs: number): Promise<void> {
  await tx.query(
    `insert into recall_check (group_id, check_id, recall_id, site_id, method, effective, checked_at, recorded_at, recorded_by, note)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::text, $6::boolean, to_timestamp($7::float8 / 1000),
             to_timestamp($8::float8 / 1000), $9::uuid, $10::text)`,
    [
      tx.groupId,
      check.checkId,
      check.recallId,
      check.siteId,
      check.method,
      check.effective,
      check.checkedAtMs,
      nowMs,
      check.recordedBy,
      check.note,
    ],
  );
}

/** The newest check of each site. */
async function countChecks(tx: Tx, recallId: string): Promise<{ checkedSites: number; effectiveSites: number }> {
  const rows = await tx.query<{ checkedSites: number; effectiveSites: number }>(
    `select count(*)::int as "checkedSites", (count(*) filter (where c.effective))::int as "effectiveSites"
       from (select distinct on (rc.site_id) rc.effective from recall_check rc
              where rc.group_id = $1::uuid and rc.recall_id = $2::uuid
              order by rc.site_id, rc.check_no desc) c`,
    [tx.groupId, recallId],
  );
  return rows[0] ?? { checkedSites: 0, effectiveSites: 0 };
}

/** Needed and done, at the level in force. @param sites how many sites were told */
export async function checksOf(tx: Tx, recallId: string, sites: number) {
  const { checkLevel, checkPercent } = await readInForce(tx, recallId);
  const done = await countChecks(tx, recallId);
  return {
    level: checkLevel ?? null,
    neededSites: neededSites(checkLevel ?? null, checkPercent ?? null, sites),
    ...done,
  };
}
