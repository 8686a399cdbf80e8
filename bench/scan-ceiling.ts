/**
 * The ceiling of bulk scans: what a batch insert written by hand would cost that writes the same rows. It decides nothing, checks
 * nothing and reads nothing back; hashes, answers and accounts are worked out before the clock starts. One statement on one connection,
 * in a transaction that takes the application's role and sets the group as the service does, so that row security, foreign keys
 * and every index are paid for in full.
 */
import { createHash } from 'node:crypto';
import pg from 'pg';
import { outside } from '../src/features/ledger/index.ts';
import { contentHashOf } from '../src/platform/http/facts.ts';
import type { Consignment, PackWorld } from './pack-world.ts';
import type { Kind, PackScan } from './scan-rows.ts';

const ROWS = `jsonb_to_recordset($2::jsonb) as r(n int8, id uuid, lot uuid, code text, serial text, at timestamptz, h text, l text,
  content jsonb, answer jsonb)`;

/** $1 group, $2 rows, $3 site, $4 place, $5 dispatch, $6 from, $7 to, $8 actor, $9 entry kind, $10 scan kind, $11 day, $12 how many,
 *  $13 lots, $14 packs of each; the kind of account that it leaves keeps its sign. */
const WRITE = `
with r as materialized (select r.* from ${ROWS}),
head as (
  update group_head g set last_seq = g.last_seq + $12::int8, last_recorded_at = greatest(g.last_recorded_at, now())
   where g.group_id = $1::uuid returning g.last_seq - $12::int8 as base, g.last_recorded_at as at),
e as (
  insert into entry (group_id, seq, entry_id, kind, fact_id, site_id, occurred_at, occurred_on, recorded_at, actor_id,
         clock_offset_ms, content_hash, leaf_hash, dispatch_id, scan_id, note)
  select $1::uuid, head.base + r.n, r.id, $9::text, r.id, $3::uuid, r.at, $11::date, head.at, $8::uuid,
         null, decode(r.h, 'hex'), decode(r.l, 'hex'), case when $9::text = 'receipt' then $5::uuid end, r.id, '{}'::jsonb
    from r, head),
p as (
  insert into posting (group_id, seq, line_no, lot_id, from_account_id, to_account_id, quantity, basis, occurred_at, occurred_on)
  select $1::uuid, head.base + r.n, 1, r.lot, $6::uuid, $7::uuid, 1, 'counted', r.at, $11::date from r, head),
s as (
  insert into scan (group_id, scan_id, site_id, kind, code, lot_id, serial, dispatch_id, place_id, quantity, occurred_at, occurred_on,
         recorded_at, actor_id, content_hash, outcome)
  select $1::uuid, r.id, $3::uuid, $10::text, r.code, r.lot, r.serial, $5::uuid, $4::uuid, 1, r.at, $11::date, now(), $8::uuid,
         decode(r.h, 'hex'), 'recorded' from r),
f as (
  insert into fact (group_id, fact_id, operation, content, content_hash, site_id, status, answer, location, actor_id, recorded_at)
  select $1::uuid, r.id, 'createScans', r.content, decode(r.h, 'hex'), $3::uuid, 207, r.answer, '/v1/scans/' || r.id, $8::uuid, now()
    from r),
b as (
  insert into balance (group_id, lot_id, account_id, sign, quantity)
  select $1::uuid, d.lot, $7::uuid, case when $9::text = 'use' then 0 else 1 end, d.packs
    from unnest($13::uuid[], $14::int8[]) as d(lot, packs)
  on conflict (group_id, lot_id, account_id) do update set quantity = balance.quantity + excluded.quantity)
update balance o set quantity = o.quantity - d.packs
  from unnest($13::uuid[], $14::int8[]) as d(lot, packs)
 where o.group_id = $1::uuid and o.lot_id = d.lot and o.account_id = $6::uuid`;

interface CeilingBatch {
  readonly values: readonly unknown[];
  readonly rows: readonly object[];
}

export interface Ceiling {
  prepare(sent: Consignment, kind: Kind, scans: readonly PackScan[]): CeilingBatch;
  /** one transaction of three messages; the rows become JSON within the time, as they would for anybody */
  write(batch: CeilingBatch): Promise<void>;
  end(): Promise<void>;
}

const ENTRY_KINDS = { arrival: 'receipt', 'put-away': 'move', use: 'use' } as const;

export async function openCeiling(url: string, groupId: string, actorId: string, world: PackWorld): Promise<Ceiling> {
  const client = new pg.Client(url);
  await client.connect();
  const begin =
    `begin; set local role sealtrail_app; set local statement_timeout = 30000;` +
    ` select set_config('app.group_id', '${groupId}', true)`;
  return {
    prepare(sent, kind, scans) {
      const [from, to] = {
        arrival: [sent.dispatchId, world.receivingPlaceId],
        'put-away': [world.receivingPlaceId, world.chillerId],
        use: [world.chillerId, outside('served', world.wardId)],
      }[kind] as [string, string];
      const rows = scans.map(({ body, lot, serial }, at) => {
        const { id, ...fields } = body;
        const content = { ...fields, siteId: world.wardId };
        const hash = contentHashOf(content);
        return {
          n: at + 1,
          id,
          lot: lot.lotId,
          code: body.code,
          serial,
          at: body.occurredAt,
          h: hash.toString('hex'),
          l: createHash('sha256').update(hash).update(id).digest('hex'),
          content,
          answer: answerOf(lot.lotId, lot.code, serial),
        };
      });
      const packs = new Map<string, number>();
      for (const { lot } of scans) packs.set(lot.lotId, (packs.get(lot.lotId) ?? 0) + 1);
      const constants = [
        world.wardId,
        kind === 'put-away' ? world.chillerId : null,
        kind === 'arrival' ? sent.dispatchId : null,
        from,
        to,
        actorId,
        ENTRY_KINDS[kind],
        kind,
        scans[0]?.body.occurredAt.slice(0, 10),
        rows.length,
        [...packs.keys()],
        [...packs.values()],
      ];
      return { rows, values: [groupId, null, ...constants] };
    },
    async write({ rows, values }) {
      await client.query(begin);
      await client.query(WRITE, [values[0], JSON.stringify(rows), ...values.slice(2)]);
      await client.query('commit');
    },
    end: () => client.end(),
  };
}

/** The first answer of a scan as the service keeps it: what a blank answer does not say. */
function answerOf(lotId: string, lotCode: string, serial: string): object {
  return { status: 'recorded', lotId, lotCode, serial, mayUse: true };
}
