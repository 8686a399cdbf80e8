/** Suppliers: who delivers to the group. */
import { z } from 'zod';
import { address } from '../../../platform/http/address.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { code, factId, line, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const Supplier = z
  .object({
    supplierId: uuid,
    code: z.string(),
    name: z.string(),
    gln: z.string().nullable(),
    address: address.nullable(),
    active: z.boolean(),
    version: z.int(),
  })
  .meta({ id: 'Supplier' });

const gln = z
  .string()
  .regex(/^[0-9]{13}$/, '13 digits')
  .meta({
    description: 'Global Location Number by which it names itself in its documents; the check digit is checked',
  });

const params = z.strictObject({ supplierId: uuid });

export const createSupplier = defineOperation({
  id: 'createSupplier',
  method: 'post',
  path: '/v1/suppliers',
  tag: 'catalogue',
  summary: 'Add a supplier',
  permission: 'catalogue.write',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({ id: factId, code, name: line(), gln: gln.optional(), address: address.optional() }),
  answers: { 201: { description: 'Added', schema: Supplier, headers: ['Location', 'ETag'] } },
  errors: ['code-taken', 'rule-broken'],
  example: {
    body: {
      id: exampleId('new/supplier'),
      code: 'HEATHSIDE',
      name: 'Heathside Vegetables',
      address: {
        phone: '01632 960120',
        street: '4 Heathside Lane',
        city: 'Ostermere',
        postalCode: 'ZZ9 7QD',
        country: 'GB',
      },
    },
    role: 'operations',
    status: 201,
  },
});

export const listSuppliers = defineOperation({
  id: 'listSuppliers',
  method: 'get',
  path: '/v1/suppliers',
  tag: 'catalogue',
  summary: 'Suppliers by code',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, code: code.optional() }),
  answers: { 200: { description: 'A page', schema: pageSchema(Supplier), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200 },
});

export const getSupplier = defineOperation({
  id: 'getSupplier',
  method: 'get',
  path: '/v1/suppliers/{supplierId}',
  tag: 'catalogue',
  summary: 'One supplier',
  permission: 'catalogue.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The supplier', schema: Supplier, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { params: { supplierId: exampleId('supplier/brook') }, status: 200 },
});

export const changeSupplier = defineOperation({
  id: 'changeSupplier',
  method: 'patch',
  path: '/v1/suppliers/{supplierId}',
  tag: 'catalogue',
  summary: 'Rename a supplier, change its GLN or address, or take it off the list',
  permission: 'catalogue.write',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z.strictObject({
    name: line().optional(),
    gln: gln.nullable().optional(),
    address: address.nullable().optional(),
    active: z.boolean().optional(),
  }),
  answers: { 200: { description: 'Changed', schema: Supplier, headers: ['ETag'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    params: { supplierId: exampleId('supplier/brook') },
    body: { name: 'Brook Farm Meats' },
    ifMatch: '*',
    role: 'operations',
    status: 200,
  },
});
