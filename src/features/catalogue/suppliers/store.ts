/** SQL on supplier. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Address } from '../../../platform/http/address.ts';
import type { Page } from '../../../platform/http/paging.ts';
import { byId } from '../store.ts';

export interface SupplierRow {
  readonly supplierId: string;
  readonly code: string;
  readonly name: string;
  readonly gln: string | null;
  readonly address: Address | null;
  readonly active: boolean;
  readonly version: number;
}

const COLUMNS = `s.supplier_id as "supplierId", s.code, s.name, s.gln, s.address, s.active, s.version`;

const addressJson = ({ address }: SupplierRow): string | null => (address === null ? null : JSON.stringify(address));

export async function findSuppliers(tx: Tx, supplierIds: readonly string[]): Promise<Map<string, SupplierRow>> {
  const rows = await tx.query<SupplierRow>(
    `select ${COLUMNS} from supplier s where s.group_id = $1::uuid and s.supplier_id = any($2::uuid[])`,
    [tx.groupId, supplierIds],
  );
  return byId(rows, (row) => row.supplierId);
}

export async function lockSupplier(tx: Tx, supplierId: string): Promise<SupplierRow | null> {
  const rows = await tx.query<SupplierRow>(
    `select ${COLUMNS} from supplier s where s.group_id = $1::uuid and s.supplier_id = $2::uuid for update`,
    [tx.groupId, supplierId],
  );
  return rows[0] ?? null;
}

/** Suppliers by code, one more than the page holds. */
export async function listSuppliers(tx: Tx, code: string | null, page: Page): Promise<SupplierRow[]> {
  return tx.query<SupplierRow>(
    `select ${COLUMNS} from supplier s
      where s.group_id = $1::uuid and ($2::text is null or s.code = $2::text)
        and ($3::text is null or (s.code, s.supplier_id) > ($3::text, $4::uuid))
      order by s.code, s.supplier_id limit $5::int`,
    [tx.groupId, code, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

export async function insertSupplier(tx: Tx, supplier: SupplierRow): Promise<void> {
  await tx.query(
    `insert into supplier (group_id, supplier_id, code, name, active, version, address, gln)
     values ($1::uuid, $2::uuid, $3::text, $4::text, $5::boolean, $6::int, $7::jsonb, $8::text)`,
    [
      tx.groupId,
      supplier.supplierId,
      supplier.code,
      supplier.name,
      supplier.active,
      supplier.version,
      addressJson(supplier),
      supplier.gln,
    ],
  );
}

export async function updateSupplier(tx: Tx, supplier: SupplierRow): Promise<void> {
  await tx.query(
    `update supplier set name = $3::text, active = $4::boolean, version = $5::int, address = $6::jsonb, gln = $7::text
      where group_id = $1::uuid and supplier_id = $2::uuid`,
    [
      tx.groupId,
      supplier.supplierId,
      supplier.name,
      supplier.active,
      supplier.version,
      addressJson(supplier),
      supplier.gln,
    ],
  );
}
