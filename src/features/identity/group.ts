/** A new group with its first administrator. Not an operation: groups are made by whoever runs the service. */
import { hashPassword } from '../../platform/auth/passwords.ts';
import type { Db, Tx } from '../../platform/db/db.ts';
import type { Address } from '../../platform/http/address.ts';
import { groupIdOf } from '../../platform/ids.ts';
import { passwordFault } from './password-rules.ts';
import { insertGrants, insertPerson, upsertCredential } from './store.ts';

export interface NewGroup {
  readonly code: string;
  readonly name: string;
  /** ISO 4217 */
  readonly currency: string;
  /** where the business is that answers for the food; a known group's is changed by it */
  readonly address?: Address;
  readonly admin: {
    readonly personId: string;
    readonly name: string;
    readonly signInName: string;
    readonly password: string;
  };
  readonly nowMs: number;
}

async function findGroupName(tx: Tx): Promise<string | null> {
  const rows = await tx.query<{ name: string }>(`select g.name from groups g where g.group_id = $1::uuid`, [
    tx.groupId,
  ]);
  return rows[0]?.name ?? null;
}

async function insertGroup(tx: Tx, group: NewGroup): Promise<void> {
  await tx.query(
    `insert into groups (group_id, code, name, currency, created_at)
     values ($1::uuid, $2::text, $3::text, $4::text, to_timestamp($5::float8 / 1000))`,
    [tx.groupId, group.code, group.name, group.currency, group.nowMs],
  );
}

async function setGroupAddress(tx: Tx, address: Address): Promise<void> {
  await tx.query(`update groups set address = $2::jsonb where group_id = $1::uuid`, [
    tx.groupId,
    JSON.stringify(address),
  ]);
}

async function insertGroupHead(tx: Tx, nowMs: number): Promise<void> {
  await tx.query(
    `insert into group_head (group_id, last_seq, last_recorded_at) values ($1::uuid, 0, to_timestamp($2::float8 / 1000))`,
    [tx.groupId, nowMs],
  );
}

async function insertGroupQueue(tx: Tx): Promise<void> {
  await tx.query(`insert into group_queue (group_id) values ($1::uuid)`, [tx.groupId]);
}

/**
 * Answers the group that is there when code and name are the same; its people stay as they are, its address becomes what is said.
 * @throws Error when the code belongs to a group of another name, or the password is too easy to guess
 */
export async function createGroup(db: Db, group: NewGroup): Promise<{ groupId: string }> {
  const { personId, name, signInName, password } = group.admin;
  const groupId = groupIdOf(group.code);
  return db.inGroup(groupId, 'exclusive', async (tx) => {
    const known = await findGroupName(tx);
    if (known === group.name) {
      if (group.address) await setGroupAddress(tx, group.address);
      return { groupId };
    }
    if (known !== null) throw new Error(`the group code ${group.code} already belongs to ${known}`);
    const fault = passwordFault(password, signInName);
    if (fault !== null) throw new Error(`the administrator's password: ${fault}`);
    const passwordHash = await hashPassword(password);
    await insertGroup(tx, group);
    if (group.address) await setGroupAddress(tx, group.address);
    await insertGroupHead(tx, group.nowMs);
    await insertGroupQueue(tx);
    await insertPerson(tx, { personId, name, signInName, active: true, version: 1 });
    await upsertCredential(tx, personId, passwordHash);
    await insertGrants(tx, personId, [{ role: 'admin', siteId: null }]);
    return { groupId };
  });
}

/** The currency that the group keeps its books in, ISO 4217. */
export async function getCurrency(tx: Tx): Promise<string> {
  const rows = await tx.query<{ currency: string }>(`select g.currency from groups g where g.group_id = $1::uuid`, [
    tx.groupId,
  ]);
  const [group] = rows;
  if (!group) throw new Error('The group has no row of its own');
  return group.currency;
}
