/** Starting points that name a supplier: a code on an invoice, or all that came in a period. */
import { Refused } from '../../../domain/errors.ts';
import { nearestCodes } from '../../../domain/recall/near-codes.ts';
import type { Tx } from '../../../platform/db/db.ts';

interface CodeOwner {
  readonly supplierId: string | null;
  /** a shop's, when bought for cash */
  readonly supplierName: string | null;
  readonly supplierLotCode: string;
  readonly exact: boolean;
  readonly lots: number;
}

/** Suppliers by code or name as written; capitals and marks do not matter. */
async function findSupplierIds(tx: Tx, supplier: string): Promise<string[]> {
  const rows = await tx.query<{ supplierId: string }>(
    `select s.supplier_id as "supplierId" from supplier s
      where s.group_id = $1::uuid
        and (s.code = $2::text or s.name = $2::text
          or supplier_lot_key(s.code) = supplier_lot_key($2::text) or supplier_lot_key(s.name) = supplier_lot_key($2::text))`,
    [tx.groupId, supplier],
  );
  return rows.map((row) => row.supplierId);
}

/** Who delivered lots with this code, as written or with the same letters and digits. */
async function findOwners(tx: Tx, code: string, supplierIds: readonly string[] | null): Promise<CodeOwner[]> {
  return tx.query<CodeOwner>(
    `select l.supplier_id as "supplierId", coalesce(su.name, l.shop_name) as "supplierName",
            min(l.supplier_lot_code) as "supplierLotCode", bool_or(l.supplier_lot_code = $2::text) as exact,
            count(*)::int as lots
       from lot l
       left join supplier su on su.group_id = l.group_id and su.supplier_id = l.supplier_id
      where l.group_id = $1::uuid and (l.supplier_lot_key = supplier_lot_key($2::text) or l.supplier_lot_code = $2::text)
        and ($3::uuid[] is null or l.supplier_id = any($3::uuid[]))
      group by l.supplier_id, coalesce(su.name, l.shop_name)
      order by 2, 1`,
    [tx.groupId, code, supplierIds],
  );
}

interface CodeRow extends Omit<CodeOwner, 'exact'> {
  readonly key: string;
  readonly asked: string;
}

/** Codes that begin like the one that is asked for, or are about as long; the newest 20,000. */
async function listCodes(tx: Tx, code: string, supplierIds: readonly string[] | null): Promise<CodeRow[]> {
  return tx.query<CodeRow>(
    `select l.supplier_id as "supplierId", coalesce(su.name, l.shop_name) as "supplierName",
            l.supplier_lot_code as "supplierLotCode", l.supplier_lot_key as key, q.key as asked, count(*)::int as lots
       from lot l
       left join supplier su on su.group_id = l.group_id and su.supplier_id = l.supplier_id
       cross join (select supplier_lot_key($2::text) as key) q
      where l.group_id = $1::uuid and l.supplier_lot_key is not null and ($3::uuid[] is null or l.supplier_id = any($3::uuid[]))
        and (abs(length(l.supplier_lot_key) - length(q.key)) <= 2
          or left(l.supplier_lot_key, greatest(3, (length(q.key) + 1) / 2)) = left(q.key, greatest(3, (length(q.key) + 1) / 2)))
      group by 1, 2, 3, 4, 5
      order by max(l.born_at) desc, 3, 1
      limit 20000`,
    [tx.groupId, code, supplierIds],
  );
}

const MOST_MATCHES = 10;

/** The codes that may have been meant, the nearest first. */
async function nearMatches(tx: Tx, code: string, supplierIds: readonly string[] | null): Promise<object[]> {
  const rows = await listCodes(tx, code, supplierIds);
  return nearestCodes(rows[0]?.asked ?? '', rows, (row) => row.key, MOST_MATCHES).map(({ candidate }) => {
    const { supplierId, supplierName, supplierLotCode, lots } = candidate;
    return { supplierId, supplierName, supplierLotCode, lots };
  });
}

export interface SaidSupplierLot {
  readonly supplierId: string | null;
  readonly shopName: string | null;
}

/**
 * Whose code it is. Who wrote it exactly so goes before who has the same letters and digits; of the one who is meant, all spellings are
 * in scope, as later deliveries will be.
 * @throws Refused `starts-match-nothing`, `start-ambiguous`, both with `matches`
 */
export async function ownerOfCode(
  tx: Tx,
  at: number,
  asked: {
    readonly supplierId?: string | undefined;
    readonly supplier?: string | undefined;
    readonly supplierLotCode: string;
  },
): Promise<SaidSupplierLot> {
  const { supplierLotCode } = asked;
  const named = asked.supplier === undefined ? null : await findSupplierIds(tx, asked.supplier);
  const wanted = asked.supplierId === undefined ? named : [asked.supplierId];
  const found = await findOwners(tx, supplierLotCode, wanted);
  const exact = found.filter((owner) => owner.exact);
  const owners = exact.length > 0 ? exact : found;
  const errors = (detail: string) => [{ detail, pointer: `#/starts/${at}` }];
  if (owners.length === 0) {
    const whose = asked.supplier === undefined && asked.supplierId === undefined ? '' : ' of that supplier';
    const unknown = named?.length === 0 ? ` No supplier is called ${asked.supplier}.` : '';
    const detail = `Starting point ${at + 1}: no lot${whose} came with the code ${supplierLotCode}.${unknown}`;
    const matches = await nearMatches(tx, supplierLotCode, wanted?.length === 0 ? null : wanted);
    throw new Refused('starts-match-nothing', detail, { errors: errors(detail), members: { matches } });
  }
  if (owners.length > 1) {
    const detail = `Starting point ${at + 1}: ${owners.length} suppliers have lots with the code ${supplierLotCode}.`;
    const matches = owners.slice(0, MOST_MATCHES).map(({ exact: _exact, ...owner }) => owner);
    throw new Refused('start-ambiguous', detail, { errors: errors(detail), members: { matches } });
  }
  const owner = owners[0];
  return { supplierId: owner?.supplierId ?? null, shopName: owner?.supplierId ? null : (owner?.supplierName ?? null) };
}

export async function supplierLotKey(tx: Tx, code: string): Promise<string> {
  const rows = await tx.query<{ key: string | null }>('select supplier_lot_key($1::text) as key', [code]);
  return rows[0]?.key ?? code;
}

export async function lotsOfCode(tx: Tx, said: Readonly<Record<string, unknown>>): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId" from lot l
      where l.group_id = $1::uuid and (l.supplier_lot_key = supplier_lot_key($2::text) or l.supplier_lot_code = $2::text)
        and case when $3::uuid is null then l.supplier_id is null and l.shop_name is not distinct from $4::text
                 else l.supplier_id = $3::uuid end`,
    [tx.groupId, said.supplierLotCode, said.supplierId ?? null, said.shopName ?? null],
  );
  return rows.map((row) => row.lotId);
}

/** Deliveries that came in the period, whenever they were recorded. */
export async function lotsOfSupplierPeriod(tx: Tx, said: Readonly<Record<string, unknown>>): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select gl.lot_id as "lotId"
       from goods_receipt g
       join goods_receipt_line gl on gl.group_id = g.group_id and gl.goods_receipt_id = g.goods_receipt_id
      where g.group_id = $1::uuid and g.supplier_id = $2::uuid and gl.lot_id is not null
        and g.occurred_at >= $3::timestamptz and g.occurred_at < $4::timestamptz`,
    [tx.groupId, said.supplierId, said.from, said.to],
  );
  return rows.map((row) => row.lotId);
}
