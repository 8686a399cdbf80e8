/** Refusals: `not-found`, `code-taken`, `version-mismatch`. */
import { notFound } from '../../../domain/errors.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { requireVersion } from '../../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../../platform/http/replies.ts';
import { insertVersions } from '../store.ts';
import type { changeSupplier, createSupplier, getSupplier, listSuppliers } from './contract.ts';
import * as store from './store.ts';

export async function createSupplierCommand(context: Context<typeof createSupplier>): Promise<Reply> {
  const { tx, body, factId } = context;
  const supplier: store.SupplierRow = {
    supplierId: factId,
    code: body.code,
    name: body.name,
    address: body.address ?? null,
    active: true,
    version: 1,
  };
  // From here on only success.
  await store.insertSupplier(tx, supplier);
  await insertVersions(context, [{ kind: 'supplier', objectId: factId, content: supplier }]);
  return createdReply(`/v1/suppliers/${factId}`, supplier, null);
}

export async function listSuppliersQuery({ tx, query, path }: Context<typeof listSuppliers>): Promise<Reply> {
  const page = pageOf(query, ['text', 'uuid']);
  const rows = await store.listSuppliers(tx, query.code ?? null, page);
  return pageReply(path, query, page, rows, (row) => [row.code, row.supplierId]);
}

export async function getSupplierQuery({ tx, params }: Context<typeof getSupplier>): Promise<Reply> {
  const supplier = (await store.findSuppliers(tx, [params.supplierId])).get(params.supplierId);
  if (!supplier) throw notFound('supplier');
  return stateReply(supplier);
}

export async function changeSupplierCommand(context: Context<typeof changeSupplier>): Promise<Reply> {
  const { tx, params, body, ifMatch } = context;
  const supplier = await store.lockSupplier(tx, params.supplierId);
  if (!supplier) throw notFound('supplier');
  requireVersion(ifMatch, supplier.version);
  const changed: store.SupplierRow = {
    ...supplier,
    name: body.name ?? supplier.name,
    address: body.address === undefined ? supplier.address : body.address,
    active: body.active ?? supplier.active,
    version: supplier.version + 1,
  };
  // From here on only success.
  await store.updateSupplier(tx, changed);
  await insertVersions(context, [{ kind: 'supplier', objectId: supplier.supplierId, content: changed }]);
  return stateReply(changed);
}
