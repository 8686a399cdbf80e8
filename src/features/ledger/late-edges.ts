/**
 * A lot turns out to have gone into others that exist already: edges, and everything that spreads along them, so that the end is the
 * same as if it had been known when they were made. Holds go everywhere; dates, thaw starts and rawness stop at a kill step;
 * allergens never stop.
 */
import { derivedId } from '../../platform/ids.ts';
import type { Tx } from '../../platform/db/db.ts';
import { dateEndingAt, useByFrom, type LifeRule } from '../../domain/use-by.ts';
import { judgeReached } from './declarations/judge.ts';
import { addEdges, EDGE_ROWS, listEdgesFrom, spreadAllergens, spreadUseBy, type EdgeDraft } from './edges-store.ts';
import { tightenUseBy } from './lots-store.ts';

interface ThawedRow {
  readonly lotId: string;
  readonly thawStartMs: number;
  /** the rule that the lot was born with */
  readonly life: LifeRule | null;
  readonly useByAtMs: number | null;
  readonly timeZone: string;
}

const thawStart = (lot: string, state: string) =>
  `coalesce(${state}.thaw_start_at, to_timestamp((${lot}.anchors ->> 'thawStart')::float8 / 1000))`;

/** The earliest thaw start of what went in reaches whatever has no kill step since. Answers the lots that it changed. */
async function spreadThawStart(tx: Tx, edges: readonly EdgeDraft[]): Promise<ThawedRow[]> {
  return tx.query<ThawedRow>(
    `with recursive thaw (lot_id, at) as (
       select n."childLotId", ${thawStart('pl', 'ps')}
         from ${EDGE_ROWS}
         join lot pl on pl.group_id = $1::uuid and pl.lot_id = n."parentLotId"
         join lot_state ps on ps.group_id = $1::uuid and ps.lot_id = n."parentLotId"
        where n."capsUseBy" and ${thawStart('pl', 'ps')} is not null
       union
       select le.child_lot_id, t.at
         from thaw t
         join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = t.lot_id and le.caps_use_by
     ), earliest as (select t.lot_id, min(t.at) as at from thaw t group by t.lot_id)
     update lot_state s set thaw_start_at = e.at
       from earliest e
       join lot l on l.group_id = $1::uuid and l.lot_id = e.lot_id
       join site si on si.group_id = l.group_id and si.site_id = l.site_id
      where s.group_id = $1::uuid and s.lot_id = e.lot_id and e.at < coalesce(${thawStart('l', 's')}, 'infinity')
     returning s.lot_id as "lotId", (extract(epoch from s.thaw_start_at) * 1000)::int8 as "thawStartMs",
            nullif(l.use_by_basis -> 'life', 'null') as life, si.time_zone as "timeZone",
            case when s.use_by_at = 'infinity' then null else (extract(epoch from s.use_by_at) * 1000)::int8 end as "useByAtMs"`,
    [tx.groupId, JSON.stringify(edges)],
  );
}

/** Raw food in it makes it raw, unless a kill step lies between. */
async function spreadRaw(tx: Tx, edges: readonly EdgeDraft[]): Promise<void> {
  await tx.query(
    `with recursive raw (lot_id) as (
       select n."childLotId"
         from ${EDGE_ROWS}
         join lot pl on pl.group_id = $1::uuid and pl.lot_id = n."parentLotId"
         join lot_state ps on ps.group_id = $1::uuid and ps.lot_id = n."parentLotId"
        where n."capsUseBy" and coalesce(ps.handling, pl.handling) = 'raw'
       union
       select le.child_lot_id
         from raw r
         join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = r.lot_id and le.caps_use_by
     )
     update lot_state s set handling = 'raw'
       from raw r
       join lot l on l.group_id = $1::uuid and l.lot_id = r.lot_id
      where s.group_id = $1::uuid and s.lot_id = r.lot_id and coalesce(s.handling, l.handling) <> 'raw'`,
    [tx.groupId, JSON.stringify(edges)],
  );
}

/**
 * Adds edges to lots that may have children already. The gate has to be held exclusively.
 * @returns the lots that now count as thawed, or as thawed earlier, than was known
 */
export async function joinLate(tx: Tx, edges: readonly EdgeDraft[], actorId: string, nowMs: number): Promise<string[]> {
  if (edges.length === 0) return [];
  await addEdges(tx, edges, nowMs);
  const thawed = await spreadThawStart(tx, edges);
  for (const { lotId, thawStartMs, life, useByAtMs, timeZone } of thawed) {
    if (life?.anchor !== 'thaw-start') continue;
    const end = useByFrom(life, { thawStart: thawStartMs }, timeZone);
    if ('refusal' in end || (useByAtMs !== null && end.endsAtMs >= useByAtMs)) continue;
    const change = { changeId: derivedId(`thawed-${thawStartMs}`, lotId), lotId, endsAtMs: end.endsAtMs };
    const date = dateEndingAt(end.endsAtMs, timeZone);
    await tightenUseBy(tx, { ...change, date, reason: 'It holds food that was thawed earlier', actorId }, nowMs);
    await spreadUseBy(tx, await listEdgesFrom(tx, lotId), actorId, nowMs);
  }
  await spreadUseBy(tx, edges, actorId, nowMs);
  await spreadAllergens(tx, edges, actorId, nowMs);
  await spreadRaw(tx, edges);
  await judgeReached({ tx, actorId, nowMs }, [...new Set(edges.map((edge) => edge.childLotId))], 'known');
  return thawed.map((row) => row.lotId);
}
