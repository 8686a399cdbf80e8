/** What the service's tables say about a group, in the oracle's words. Read as the application's role, under row security. */
import { createHash } from 'node:crypto';
import type { TestService } from '../service.ts';

type Rows<T> = Promise<T[]>;

export interface Books {
  /** "lotId|account" to net, twins merged, zeros left out */
  readonly net: Record<string, number>;
  readonly edges: string[];
  readonly findings: string[];
  /** "holdId|lotId" of open holds, but for those that wait for release */
  readonly holds: Set<string>;
}

const ACCOUNT = `replace(a.kind, '-shortfall', '') || ':' ||
  case when a.sign = 0 then a.site_id else coalesce(a.twin_of, a.account_id) end`;

export async function booksOf(service: TestService, groupId: string): Promise<Books> {
  return service.db.inGroup(groupId, 'read', async (tx) => {
    const nets = await tx.query<{ key: string; net: number }>(
      `select b.lot_id || '|' || ${ACCOUNT} as key, sum(b.quantity)::int8 as net
         from balance b join account a on a.group_id = b.group_id and a.account_id = b.account_id
        group by 1 having sum(b.quantity) <> 0 order by 1`,
    );
    const edges = await tx.query<{ edge: string }>(
      `select distinct parent_lot_id || '>' || child_lot_id as edge from lot_edge order by 1`,
    );
    const findings = await tx.query<{ finding: string }>(
      `select case when f.kind = 'shortfall' then 'shortfall|' || f.lot_id || '|' || ${ACCOUNT}
                   else f.kind || '|' || f.subject end as finding
         from finding f
         left join account a on f.kind = 'shortfall' and a.group_id = f.group_id
                            and a.account_id::text = split_part(f.subject, '|', 2)
        where f.status = 'open' and f.kind in ('shortfall', 'ended-twice', 'seen-after-end', 'past-use-by')
          and not f.detail ? 'atGoodsIn'
        order by 1`,
    );
    const holds = await tx.query<{ key: string }>(
      `select hr.hold_id || '|' || hr.lot_id as key
         from hold_reach hr join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id
        where h.lifted_at is null and h.kind <> 'awaiting-release'`,
    );
    return {
      net: Object.fromEntries(nets.map(({ key, net }) => [key, net])),
      edges: edges.map(({ edge }) => edge),
      findings: findings.map(({ finding }) => finding).sort(),
      holds: new Set(holds.map(({ key }) => key)),
    };
  });
}

/** Every row that a replay might wrongly add to or change. */
export async function talliesOf(service: TestService, groupId: string): Promise<unknown> {
  return service.db.inGroup(groupId, 'read', (tx) =>
    tx.query(
      `select (select count(*) from entry) as entries, (select count(*) from posting) as postings,
              (select count(*) from fact) as facts, (select count(*) from scan) as scans,
              (select count(*) from lot) as lots, (select count(*) from hold_reach) as reached,
              (select md5(string_agg(b::text, ';' order by b.lot_id, b.account_id)) from balance b) as balances,
              (select md5(string_agg(f::text, ';' order by f.finding_id)) from finding f) as findings,
              (select last_seq from group_head) as last_seq`,
    ),
  );
}

function leafHashOf(contentHash: Buffer, seq: number, recordedAtUs: number): string {
  const number = (n: number) => Buffer.from(n.toString(16).padStart(16, '0'), 'hex');
  return createHash('sha256')
    .update(Buffer.concat([Buffer.of(0), contentHash, number(seq), number(recordedAtUs)]))
    .digest('hex');
}

/** What must hold whatever happened; an empty list when it does. */
export async function faultsOf(service: TestService, groupId: string): Promise<string[]> {
  return service.db.inGroup(groupId, 'read', async (tx) => {
    const say = async (what: string, query: string): Rows<string> => {
      const rows = await tx.query<object>(query);
      return rows.map((row) => `${what}: ${JSON.stringify(row)}`);
    };
    const entries = await tx.query<{ seq: number; hash: Buffer; leaf: Buffer; us: number; before: number | null }>(
      `select seq, content_hash as hash, leaf_hash as leaf, (extract(epoch from recorded_at) * 1000000)::int8 as us,
              (extract(epoch from lag(recorded_at) over (order by seq)) * 1000000)::int8 as before
         from entry order by seq`,
    );
    const head = await tx.query<{ last: number }>('select last_seq as last from group_head');
    return [
      ...(await say('not conserved', 'select lot_id, sum(quantity) from balance group by 1 having sum(quantity) <> 0')),
      ...(await say(
        'place and twin',
        `select p.lot_id, p.account_id from balance p
           join account t on t.group_id = p.group_id and t.twin_of = p.account_id
           join balance s on s.group_id = p.group_id and s.lot_id = p.lot_id and s.account_id = t.account_id
          where p.quantity <> 0 and s.quantity <> 0`,
      )),
      ...(await say(
        'balance is not its postings',
        `select lot_id, account_id, b.quantity as kept, s.quantity as summed
           from (select lot_id, account_id, sum(quantity) as quantity from (
                   select lot_id, to_account_id as account_id, quantity from posting
                   union all select lot_id, from_account_id, -quantity from posting) p group by 1, 2) s
           full join balance b using (lot_id, account_id)
          where coalesce(b.quantity, 0) <> coalesce(s.quantity, 0)`,
      )),
      ...(await say(
        'undone in part',
        `select o.seq from entry o join entry r on r.group_id = o.group_id and r.reverses_entry_id = o.entry_id
          where o.kind <> 'stock-count' and
            (select string_agg(p.lot_id || ':' || p.quantity, ',' order by p.lot_id, p.quantity) from (
               select lot_id, sum(quantity) as quantity from posting p where p.seq = o.seq group by 1) p)
            is distinct from
            (select string_agg(p.lot_id || ':' || p.quantity, ',' order by p.lot_id, p.quantity) from (
               select lot_id, sum(quantity) as quantity from posting p where p.seq = r.seq group by 1) p)`,
      )),
      ...entries.flatMap((entry, at) => {
        const faults: string[] = [];
        if (entry.seq !== at + 1) faults.push(`a gap before seq ${entry.seq}`);
        if (entry.before !== null && entry.us < entry.before) faults.push(`recordedAt goes back at seq ${entry.seq}`);
        if (entry.leaf.toString('hex') !== leafHashOf(entry.hash, entry.seq, entry.us))
          faults.push(`leaf ${entry.seq}`);
        return faults;
      }),
      ...(head[0]?.last === entries.length ? [] : [`the head says ${head[0]?.last} of ${entries.length}`]),
    ];
  });
}
