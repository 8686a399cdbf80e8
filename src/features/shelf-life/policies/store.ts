/** SQL on site_policy_choice. */
import { findPolicySet, policySetOf, type SitePolicy } from '../../../domain/limits/policies.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface ChoiceRow {
  readonly siteId: string;
  readonly choiceId: string;
  readonly version: number;
  readonly policySet: string;
  readonly confirmed: readonly string[];
  readonly confirmedBy: string;
  readonly note: string | null;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

/** What holds now, by site; sites that never chose are left out. */
export async function findChoices(tx: Tx, siteIds: readonly string[]): Promise<Map<string, ChoiceRow>> {
  const rows = await tx.query<ChoiceRow>(
    `select distinct on (c.site_id) c.site_id as "siteId", c.choice_id as "choiceId", c.version, c.policy_set as "policySet", c.confirmed,
            c.confirmed_by as "confirmedBy", c.note, c.recorded_at as "recordedAt", c.recorded_by as "recordedBy"
       from site_policy_choice c
      where c.group_id = $1::uuid and c.site_id = any($2::uuid[])
      order by c.site_id, c.version desc`,
    [tx.groupId, siteIds],
  );
  return new Map(rows.map((row) => [row.siteId, row]));
}

export async function insertChoice(tx: Tx, row: ChoiceRow): Promise<void> {
  await tx.query(
    `insert into site_policy_choice (group_id, choice_id, site_id, version, policy_set, confirmed, confirmed_by, note, recorded_at,
            recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::int, $5::text, $6::text[], $7::text, $8::text, $9::timestamptz, $10::uuid)`,
    [
      tx.groupId,
      row.choiceId,
      row.siteId,
      row.version,
      row.policySet,
      row.confirmed,
      row.confirmedBy,
      row.note,
      row.recordedAt,
      row.recordedBy,
    ],
  );
}

export function policyOf(
  jurisdiction: string,
  choice: Pick<ChoiceRow, 'policySet' | 'confirmed'> | undefined,
): SitePolicy {
  const set = (choice && findPolicySet(choice.policySet)) ?? policySetOf(jurisdiction);
  return { set, confirmed: choice?.confirmed ?? [] };
}
