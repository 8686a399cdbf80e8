/** Every version of every catalogue row, as it was answered. Written beside the row, never read back to decide anything. */
import { Refused } from '../../domain/errors.ts';
import type { Context } from '../../platform/http/contract.ts';

export interface CatalogueVersion {
  readonly kind: 'site' | 'place' | 'equipment' | 'supplier' | 'item' | 'recipe' | 'waste-reason';
  readonly objectId: string;
  readonly content: { readonly version: number };
}

export async function insertVersions(
  { tx, actor, nowMs }: Pick<Context, 'tx' | 'actor' | 'nowMs'>,
  versions: readonly CatalogueVersion[],
): Promise<void> {
  await tx.query(
    `insert into catalogue_version (group_id, kind, object_id, version, content, actor_id, recorded_at)
     select $1::uuid, v.kind, v."objectId", (v.content ->> 'version')::int, v.content, $3::uuid,
            to_timestamp($4::float8 / 1000)
       from jsonb_to_recordset($2::jsonb) as v(kind text, "objectId" uuid, content jsonb)`,
    [tx.groupId, JSON.stringify(versions), actor.actorId, nowMs],
  );
}

/** Rows of one kind by their id. */
export function byId<Row>(rows: readonly Row[], idOf: (row: Row) => string): Map<string, Row> {
  return new Map(rows.map((row) => [idOf(row), row]));
}

/** Values that do not go together; the pointer says where. */
export function brokenRule(pointer: string, detail: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}
