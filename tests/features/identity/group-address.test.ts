import { afterAll, beforeAll, expect, test } from 'vitest';
import { createGroup } from '../../../src/features/identity/index.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { ADMIN_PASSWORD, NOON_MS, startService, type TestService } from '../../support/service.ts';

let service: TestService;
beforeAll(async () => {
  service = await startService();
});
afterAll(() => service.stop());

test('a group says where the business is; said again it is changed, left out it stays', async () => {
  const admin = { personId: exampleId('person/oak'), name: 'Ada Oak', signInName: 'oak', password: ADMIN_PASSWORD };
  const group = { code: 'oak', name: 'Oak Catering', currency: 'GBP', admin, nowMs: NOON_MS };
  const addressNow = async (more: object): Promise<unknown> => {
    const { groupId } = await createGroup(service.db, { ...group, ...more });
    const rows = await service.db.inGroup(groupId, 'read', (tx) =>
      tx.query<{ address: unknown }>('select g.address from groups g where g.group_id = $1::uuid', [groupId]),
    );
    return rows[0]?.address;
  };
  const address = {
    phone: '01632 960500',
    street: '1 Oak Lane',
    city: 'Ostermere',
    postalCode: 'ZZ9 9ZZ',
    country: 'GB',
  };
  expect(await addressNow({})).toBeNull();
  expect(await addressNow({ address })).toEqual(address);
  expect(await addressNow({})).toEqual(address);
  expect(await addressNow({ address: { country: 'IE' } })).toEqual({ country: 'IE' });
});
