/** Sums postings by stretch of seq. Written once per stretch and never changed. */
import type { Db, Tx } from '../../../platform/db/db.ts';
import type { Job } from '../../../platform/jobs.ts';
import type { Stretch } from '../../../domain/month/periods.ts';
import { ACCOUNTS, CROSSES, FLOW_COLUMNS, FLOW_JOINS } from './flow-sql.ts';

/** Entries a stretch: a report reads at most about as many postings one by one. */
const STRETCH = 50_000;
/** Stretches a run, one transaction each, so that a large group does not keep the others waiting. */
const MOST_A_RUN = 20;

interface Ends {
  readonly summedSeq: number;
  readonly headSeq: number;
}

async function findEnds(tx: Tx): Promise<Ends> {
  const [row] = await tx.query<Ends>(
    `select coalesce((select max(s.to_seq) from flow_stretch s where s.group_id = $1::uuid), 0) as "summedSeq", gh.last_seq as "headSeq"
       from group_head gh where gh.group_id = $1::uuid`,
    [tx.groupId],
  );
  if (!row) throw new Error('the group has no head row');
  return row;
}

/** One sums at a time: two would number the same way twice. */
async function lockSums(tx: Tx): Promise<void> {
  await tx.query(`select pg_advisory_xact_lock(hashtextextended('month-flows:' || $1::text, 0))`, [tx.groupId]);
}

const WAY = `entry_kind, undoes, from_kind, from_site_id, to_kind, to_site_id, reason, destination, material`;
const of = (alias: string): string => WAY.replaceAll(/\w+/g, `${alias}.$&`);

async function insertStretch(tx: Tx, fromSeq: number, toSeq: number): Promise<void> {
  await tx.query(
    `with ${ACCOUNTS}, sums as materialized (
       select x.month, x.lot_id, ${of('x')}, sum(x.quantity)::int8 as quantity
         from (select ${FLOW_COLUMNS}
                 from posting p ${FLOW_JOINS}
                where p.group_id = $1::uuid and p.seq > $2::int8 and p.seq <= $3::int8 and ${CROSSES}) x
        group by x.month, x.lot_id, ${of('x')}
     ), stretch as (
       insert into flow_stretch (group_id, from_seq, to_seq, first_month, last_month)
       select $1::uuid, $2::int8, $3::int8, (select min(s.month) from sums s), (select max(s.month) from sums s)
       returning to_seq
     ), known as materialized (
       select w.way_no, ${of('w')} from flow_way w where w.group_id = $1::uuid
     ), added as (
       insert into flow_way (group_id, way_no, ${WAY})
       select $1::uuid, (select coalesce(max(k.way_no), 0) from known k) + row_number() over (order by ${of('n')}), ${of('n')}
         from (select ${of('s')} from sums s except select ${of('k')} from known k) n
       returning way_no, ${WAY}
     )
     insert into month_flow (group_id, to_seq, row_no, way_no, month, lot_id, quantity)
     select $1::uuid, stretch.to_seq, row_number() over (order by s.lot_id), w.way_no, s.month, s.lot_id, s.quantity
       from stretch cross join sums s
       join (select k.* from known k union all select a.* from added a) w
         on (w.entry_kind, w.undoes, w.from_kind, w.to_kind) = (s.entry_kind, s.undoes, s.from_kind, s.to_kind)
        and w.from_site_id is not distinct from s.from_site_id and w.to_site_id is not distinct from s.to_site_id
        and w.reason is not distinct from s.reason and w.destination is not distinct from s.destination
        and w.material is not distinct from s.material`,
    [tx.groupId, fromSeq, toSeq],
  );
}

/** Every stretch, in order of seq. */
export async function listStretches(tx: Tx): Promise<Stretch[]> {
  return tx.query<Stretch>(
    `select s.from_seq as "fromSeq", s.to_seq as "toSeq", to_char(s.last_month, 'YYYY-MM') as "lastMonth"
       from flow_stretch s where s.group_id = $1::uuid order by s.to_seq`,
    [tx.groupId],
  );
}

/** One whole stretch, if there are that many entries since the last one; the job's step. */
async function digestNext(tx: Tx): Promise<boolean> {
  await lockSums(tx);
  const { summedSeq, headSeq } = await findEnds(tx);
  if (headSeq - summedSeq < STRETCH) return false;
  await insertStretch(tx, summedSeq, summedSeq + STRETCH);
  return true;
}

/**
 * Sums up to exactly this entry, so that a cut falls on the end of a stretch. Where it lies before the end of one that is summed, nothing is
 * done: a report at that cut then reads that stretch posting by posting. Write mode; `seq` is one that this transaction has seen.
 */
export async function digestTo(tx: Tx, seq: number): Promise<void> {
  await lockSums(tx);
  const { summedSeq, headSeq } = await findEnds(tx);
  if (seq > headSeq) throw new RangeError(`Entry ${seq} is not recorded yet`);
  for (let from = summedSeq; from < seq; from += STRETCH) await insertStretch(tx, from, Math.min(seq, from + STRETCH));
}

/** Every minute. What it has not come to yet is read posting by posting. */
export function digestPostings({ db }: { db: Db }): Job {
  return {
    name: 'digest-postings',
    sweep: '* * * * *',
    async run({ groupId }) {
      for (let done = 0; done < MOST_A_RUN; done += 1) {
        if (!(await db.inGroup(groupId, 'write', digestNext))) return;
      }
    },
  };
}
