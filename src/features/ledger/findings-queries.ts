/** SQL of findings as they are read and settled. */
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { Page } from '../../platform/http/paging.ts';

export interface FindingRow {
  readonly findingId: string;
  readonly kind: string;
  readonly siteId: string;
  readonly lotId: string | null;
  readonly lotCode: string | null;
  readonly quantity: number | null;
  readonly detail: Record<string, unknown>;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
  readonly status: 'open' | 'settled' | 'cleared';
  readonly settledBy: string | null;
  readonly settledAt: Date | null;
  readonly settlementNote: string | null;
}

const FINDING = `f.finding_id as "findingId", f.kind, f.site_id as "siteId", f.lot_id as "lotId", l.code as "lotCode", f.quantity,
  f.detail, f.occurred_at as "occurredAt", f.recorded_at as "recordedAt", f.status, f.settled_by as "settledBy",
  f.settled_at as "settledAt", f.settlement_note as "settlementNote"`;

export async function findFinding(tx: Tx, findingId: string): Promise<FindingRow | null> {
  const rows = await tx.query<FindingRow>(
    `select ${FINDING} from finding f left join lot l on l.group_id = f.group_id and l.lot_id = f.lot_id
      where f.group_id = $1::uuid and f.finding_id = $2::uuid`,
    [tx.groupId, findingId],
  );
  return rows[0] ?? null;
}

export async function settleFinding(
  tx: Tx,
  findingId: string,
  actorId: string,
  note: string,
  nowMs: number,
): Promise<boolean> {
  const rows = await tx.query(
    `update finding f set status = 'settled', settled_by = $3::uuid, settlement_note = $4::text,
            settled_at = to_timestamp($5::float8 / 1000), version = f.version + 1
      where f.group_id = $1::uuid and f.finding_id = $2::uuid and f.status = 'open'
     returning f.finding_id`,
    [tx.groupId, findingId, actorId, note, nowMs],
  );
  return rows.length === 1;
}

export async function listFindingRows(
  tx: Tx,
  scope: SiteScope,
  filter: { siteId: string | null; lotId: string | null; kind: string | null; status: string },
  page: Page,
): Promise<FindingRow[]> {
  return tx.query<FindingRow>(
    `select ${FINDING} from finding f left join lot l on l.group_id = f.group_id and l.lot_id = f.lot_id
      where f.group_id = $1::uuid and ($2::boolean or f.site_id = any($3::uuid[]))
        and ($4::uuid is null or f.site_id = $4::uuid)
        and ($5::uuid is null or f.lot_id = $5::uuid)
        and ($6::text is null or f.kind = $6::text)
        and f.status = $7::text
        and ($8::uuid is null or f.finding_id > $8::uuid)
      order by f.finding_id
      limit $9::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.lotId,
      filter.kind,
      filter.status,
      page.after?.[0] ?? null,
      page.limit + 1,
    ],
  );
}
