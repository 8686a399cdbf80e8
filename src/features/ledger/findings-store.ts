/** Findings: what an observation showed that the rules do not allow; listed until a person settles it. */
import { isFindingKind } from '../../domain/findings.ts';
import type { Tx } from '../../platform/db/db.ts';
import { derivedId } from '../../platform/ids.ts';

export interface FindingDraft {
  readonly kind: string;
  /** same kind and subject: the same finding */
  readonly subject: string;
  readonly siteId: string;
  readonly lotId: string | null;
  readonly quantity: number | null;
  readonly occurredAtMs: number;
  readonly detail: Readonly<Record<string, unknown>> & { readonly factId: string };
}

/** What a fact showed about a subject has one id, wherever and whenever it is computed. */
export function findingIdOf(kind: string, subject: string, factId: string): string {
  return derivedId(`finding-${kind}`, `${subject}:${factId}`);
}

/** Opens findings; one that is open already is brought up to date. `detail.factId` names the fact that showed it. */
export async function openFindings(tx: Tx, drafts: readonly FindingDraft[], nowMs: number): Promise<void> {
  if (drafts.length === 0) return;
  const strange = drafts.find((draft) => !isFindingKind(draft.kind));
  if (strange) throw new Error(`shared/findings.json does not say what ${strange.kind} is`);
  const rows = [...new Map(drafts.map((draft) => [`${draft.kind}|${draft.subject}`, draft])).values()].map((draft) => ({
    ...draft,
    findingId: findingIdOf(draft.kind, draft.subject, draft.detail.factId),
  }));
  const values = [tx.groupId, JSON.stringify(rows), nowMs];
  const given = `jsonb_to_recordset($2::jsonb) as r("findingId" uuid, kind text, subject text, "siteId" uuid, "lotId" uuid,
            quantity int8, detail jsonb, "occurredAtMs" numeric)`;
  // The same fact showing the same thing again: open if a later fact had cleared it, left alone if a person settled it.
  await tx.query(
    `update finding f set status = 'open', quantity = r.quantity, detail = r.detail, version = f.version + 1
       from ${given}
      where f.group_id = $1::uuid and f.finding_id = r."findingId" and f.status = 'cleared' and $3::float8 is not null
        and not exists (select from finding o
              where o.group_id = f.group_id and o.kind = f.kind and o.subject = f.subject and o.status = 'open')`,
    values,
  );
  await tx.query(
    `insert into finding (group_id, finding_id, kind, subject, site_id, lot_id, quantity, detail, occurred_at, recorded_at)
     select $1::uuid, r."findingId", r.kind, r.subject, r."siteId", r."lotId", r.quantity, r.detail,
            to_timestamp(r."occurredAtMs" / 1000.0), to_timestamp($3::float8 / 1000)
       from ${given}
      where not exists (select from finding f
              where f.group_id = $1::uuid and f.finding_id = r."findingId" and f.status <> 'open')
      order by r.kind, r.subject
     on conflict (group_id, kind, subject) where status = 'open'
       do update set quantity = excluded.quantity, detail = excluded.detail, version = finding.version + 1
        where finding.quantity is distinct from excluded.quantity`,
    values,
  );
}

/** A later fact showed that there is nothing to find. */
export async function clearFindings(tx: Tx, kind: string, subjects: readonly string[]): Promise<void> {
  if (subjects.length === 0) return;
  await tx.query(
    `update finding f set status = 'cleared', version = f.version + 1
      where f.group_id = $1::uuid and f.kind = $2::text and f.subject = any($3::text[]) and f.status = 'open'`,
    [tx.groupId, kind, subjects],
  );
}

/** A fact was undone: what it alone had shown is gone with it. */
export async function clearFindingsOfFact(tx: Tx, kinds: readonly string[], factId: string): Promise<void> {
  await tx.query(
    `update finding f set status = 'cleared', version = f.version + 1
      where f.group_id = $1::uuid and f.kind = any($2::text[]) and f.detail ->> 'factId' = $3::text and f.status = 'open'`,
    [tx.groupId, kinds, factId],
  );
}

/** Settles the open finding of that kind and subject, if there is one, by whoever decided what it asks for. */
export async function settleOpen(
  tx: Tx,
  { kind, subject }: { readonly kind: string; readonly subject: string },
  actorId: string,
  note: string,
  nowMs: number,
): Promise<void> {
  await tx.query(
    `update finding f set status = 'settled', settled_by = $4::uuid, settlement_note = $5::text,
            settled_at = to_timestamp($6::float8 / 1000), version = f.version + 1
      where f.group_id = $1::uuid and f.kind = $2::text and f.subject = $3::text and f.status = 'open'`,
    [tx.groupId, kind, subject, actorId, note, nowMs],
  );
}
