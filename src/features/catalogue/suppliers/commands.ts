/** Refusals: `not-found`, `code-taken`, `version-mismatch`, `rule-broken`. */
import { notFound } from '../../../domain/errors.ts';
import { isValidGln } from '../../../domain/gs1/index.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { requireVersion } from '../../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../../platform/http/replies.ts';
import { brokenRule, insertVersions } from '../store.ts';
import type { changeSupplier, createSupplier, getSupplier, listSuppliers } from './contract.ts';
import * as store from './store.ts';

function requireGln(gln: string | null | undefined): void {
  if (gln && !isValidGln(gln)) throw brokenRule('#/gln', 'The check digit of the GLN is not right.');
}

export async function createSupplierCommand(context: Context<typeof createSupplier>): Promise<Reply> {
  const { tx, body, factId } = context;
  requireGln(body.gln);
  const supplier: store.SupplierRow = {
    supplierId: factId,
    code: body.code,
    name: body.name,
    gln: body.gln ?? null,
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
  requireGln(body.gln);
  const changed: store.SupplierRow = {
    ...supplier,
    name: body.name ?? supplier.name,
    gln: body.gln === undefined ? supplier.gln : body.gln,
    address: body.address === undefined ? supplier.address : body.address,
    active: body.active ?? supplier.active,
    version: supplier.version + 1,
  };
  // From here on only success.
  await store.updateSupplier(tx, changed);
  await insertVersions(context, [{ kind: 'supplier', objectId: supplier.supplierId, content: changed }]);
  return stateReply(changed);
}
