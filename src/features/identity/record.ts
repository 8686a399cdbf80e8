/** Who recorded a fact, on which tablet and in whose place. Refusal: `not-found`. */
import { notFound } from '../../domain/errors.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import type { getFact } from './record-contract.ts';

interface FactRecordRow {
  readonly siteId: string | null;
  readonly recordedAt: Date;
}

async function findFactRecord(tx: Tx, factId: string): Promise<FactRecordRow | null> {
  const rows = await tx.query<FactRecordRow>(
    `select f.fact_id as "factId", f.operation, f.site_id as "siteId", f.actor_id as "actorId",
            coalesce(p.name, a.name) as "actorName", f.device_id as "deviceId", d.name as "deviceName",
            f.deputy_id as "deputyId", f.recorded_at as "recordedAt", f.location
       from fact f
       left join person p on p.group_id = f.group_id and p.person_id = f.actor_id
       left join device a on a.group_id = f.group_id and a.device_id = f.actor_id
       left join device d on d.group_id = f.group_id and d.device_id = f.device_id
      where f.group_id = $1::uuid and f.fact_id = $2::uuid`,
    [tx.groupId, factId],
  );
  return rows[0] ?? null;
}

export async function getFactQuery({ tx, params, scope }: Context<typeof getFact>): Promise<Reply> {
  const fact = await findFactRecord(tx, params.factId);
  if (!fact || !(fact.siteId === null ? scope.all : scope.includes(fact.siteId))) throw notFound('fact');
  return { status: 200, body: { ...fact, recordedAt: fact.recordedAt.toISOString() } };
}
