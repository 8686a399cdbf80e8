/**
 * SQL of what is in what. A crate's place at a time follows from its latest placement until then (time, then id), so a placement that is
 * recorded late says what stood before it was known. Every walk ends after MOST_LEVELS levels.
 */
import { MOST_LEVELS } from '../../../domain/crate-nesting.ts';
import type { Tx } from '../../../platform/db/db.ts';

/** The placement of crate `crate` in force at `at`; null times are not asked for. */
const inForce = (crate: string, at: string) => `select p.into_crate_id from crate_placement p
          where p.group_id = $1::uuid and p.crate_id = ${crate} and p.occurred_at <= ${at}
          order by p.occurred_at desc, p.crate_placement_id desc limit 1`;

/** Codes of these crates and of all that was ever put into them: more than is in them at any one time. */
export async function listCodesEverInside(tx: Tx, codes: readonly string[]): Promise<string[]> {
  const rows = await tx.query<{ code: string }>(
    `with recursive inside as (
       select c.crate_id, c.code, 0 as level from crate c
        where c.group_id = $1::uuid and c.code = any($2::text[])
       union
       select c.crate_id, c.code, i.level + 1
         from inside i
         join crate_placement p on p.group_id = $1::uuid and p.into_crate_id = i.crate_id
         join crate c on c.group_id = $1::uuid and c.crate_id = p.crate_id
        where i.level < ${MOST_LEVELS})
     select distinct i.code from inside i`,
    [tx.groupId, codes],
  );
  return [...new Set([...codes, ...rows.map((row) => row.code)])];
}

export interface CrateAt {
  readonly code: string;
  readonly atMs: number;
}

export interface OuterRow extends CrateAt {
  readonly outerCrateId: string;
  readonly outerCode: string;
  /** 1: directly around it */
  readonly level: number;
}

/** The crates around each of these at its time, from the inside out. A code that is no crate of ours is in none. */
export async function listOuterCrates(tx: Tx, asked: readonly CrateAt[]): Promise<OuterRow[]> {
  if (asked.length === 0) return [];
  return tx.query<OuterRow>(
    `with recursive asked as (
       select a.code, a.at_ms, to_timestamp(a.at_ms / 1000.0) as at from unnest($2::text[], $3::int8[]) as a(code, at_ms)),
     around as (
       select a.code, a.at_ms, a.at, c.crate_id, c.code as outer_code, 0 as level
         from asked a join crate c on c.group_id = $1::uuid and c.code = a.code
       union all
       select r.code, r.at_ms, r.at, o.crate_id, o.code, r.level + 1
         from around r
         cross join lateral (${inForce('r.crate_id', 'r.at')}) p
         join crate o on o.group_id = $1::uuid and o.crate_id = p.into_crate_id
        where r.level < ${MOST_LEVELS})
     select r.code, r.at_ms as "atMs", r.crate_id as "outerCrateId", r.outer_code as "outerCode", r.level
       from around r where r.level > 0
      order by r.code, r.at_ms, r.level`,
    [tx.groupId, asked.map((one) => one.code), asked.map((one) => one.atMs)],
  );
}

export interface InsideRow {
  readonly crateId: string;
  readonly code: string;
  readonly sscc: string | null;
  readonly inCrateId: string;
  /** 1: directly in it */
  readonly level: number;
  /** ids from the outside in: the order of a tree */
  readonly path: string[];
}

/** What is in a crate at a time, as a tree read from the top. */
export async function listInside(tx: Tx, crateId: string, atMs: number): Promise<InsideRow[]> {
  return tx.query<InsideRow>(
    `with recursive inside as (
       select c.crate_id, c.code, c.sscc, null::uuid as in_crate_id, 0 as level, array[]::uuid[] as path
         from crate c where c.group_id = $1::uuid and c.crate_id = $2::uuid
       union all
       select c.crate_id, c.code, c.sscc, i.crate_id, i.level + 1, i.path || c.crate_id
         from inside i
         cross join lateral (
           select distinct p.crate_id from crate_placement p where p.group_id = $1::uuid and p.into_crate_id = i.crate_id) ever
         join crate c on c.group_id = $1::uuid and c.crate_id = ever.crate_id
        where i.level < ${MOST_LEVELS}
          and (${inForce('ever.crate_id', 'to_timestamp($3::float8 / 1000)')}) = i.crate_id)
     select i.crate_id as "crateId", i.code, i.sscc, i.in_crate_id as "inCrateId", i.level, i.path::text[] as path
       from inside i where i.level > 0
      order by i.path`,
    [tx.groupId, crateId, atMs],
  );
}
