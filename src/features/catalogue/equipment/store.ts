/** SQL on equipment. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';
import { byId } from '../store.ts';

export interface EquipmentRow {
  readonly equipmentId: string;
  readonly siteId: string;
  readonly code: string;
  readonly name: string;
  readonly kind: 'vacuum-packer' | 'blast-chiller' | 'oven' | 'kettle' | 'probe' | 'scale' | 'other';
  readonly active: boolean;
  readonly version: number;
}

const COLUMNS = `e.equipment_id as "equipmentId", e.site_id as "siteId", e.code, e.name, e.kind, e.active, e.version`;

export async function findEquipment(tx: Tx, equipmentIds: readonly string[]): Promise<Map<string, EquipmentRow>> {
  const rows = await tx.query<EquipmentRow>(
    `select ${COLUMNS} from equipment e where e.group_id = $1::uuid and e.equipment_id = any($2::uuid[])`,
    [tx.groupId, equipmentIds],
  );
  return byId(rows, (row) => row.equipmentId);
}

export async function lockEquipment(tx: Tx, equipmentId: string): Promise<EquipmentRow | null> {
  const rows = await tx.query<EquipmentRow>(
    `select ${COLUMNS} from equipment e where e.group_id = $1::uuid and e.equipment_id = $2::uuid for update`,
    [tx.groupId, equipmentId],
  );
  return rows[0] ?? null;
}

/** Equipment in scope by code, one more than the page holds. */
export async function listEquipment(
  tx: Tx,
  scope: SiteScope,
  filter: { readonly siteId: string | null; readonly kind: string | null },
  page: Page,
): Promise<EquipmentRow[]> {
  return tx.query<EquipmentRow>(
    `select ${COLUMNS} from equipment e
      where e.group_id = $1::uuid and ($2::boolean or e.site_id = any($3::uuid[]))
        and ($4::uuid is null or e.site_id = $4::uuid) and ($5::text is null or e.kind = $5::text)
        and ($6::text is null or (e.code, e.equipment_id) > ($6::text, $7::uuid))
      order by e.code, e.equipment_id limit $8::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.kind,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

export async function insertEquipment(tx: Tx, machine: EquipmentRow): Promise<void> {
  await tx.query(
    `insert into equipment (group_id, equipment_id, site_id, code, name, kind, active, version)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::text, $6::text, $7::boolean, $8::int)`,
    [
      tx.groupId,
      machine.equipmentId,
      machine.siteId,
      machine.code,
      machine.name,
      machine.kind,
      machine.active,
      machine.version,
    ],
  );
}

export async function updateEquipment(tx: Tx, machine: EquipmentRow): Promise<void> {
  await tx.query(
    `update equipment set name = $3::text, active = $4::boolean, version = $5::int
      where group_id = $1::uuid and equipment_id = $2::uuid`,
    [tx.groupId, machine.equipmentId, machine.name, machine.active, machine.version],
  );
}
