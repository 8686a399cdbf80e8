/**
 * Postings as the month reads them: a reversal is its original with the sign turned, so that it nets on the line, reason and date of what
 * it undid; a shortfall counts as its place or road; what moves within one site's places, or on the road, is left out.
 */

/** Every account as a side: kind, and the site of places. Materialized: without statistics it would be worked out again for each row. */
export const ACCOUNTS = `a as materialized (
  select a.account_id, replace(a.kind, '-shortfall', '') as kind, case when a.kind like 'place%' then a.site_id end as site_id
    from account a where a.group_id = $1::uuid)`;

/** Of `p` (posting), `e` (its entry), `f` and `t` (sides). */
export const FLOW_COLUMNS = `date_trunc('month', p.occurred_on)::date as month, p.lot_id,
  case when e.kind = 'reversal' then (select o.kind from entry o where o.group_id = e.group_id and o.entry_id = e.reverses_entry_id)
       else e.kind end as entry_kind,
  e.kind = 'reversal' as undoes, f.kind as from_kind, f.site_id as from_site_id, t.kind as to_kind, t.site_id as to_site_id,
  case when 'waste' in (f.kind, t.kind) or t.kind = 'served' then p.reason end as reason,
  case when 'waste' in (f.kind, t.kind) then p.destination end as destination,
  case when 'waste' in (f.kind, t.kind) then p.material end as material,
  case when e.kind = 'reversal' then -p.quantity else p.quantity end as quantity`;

/** Joins on `p`. */
export const FLOW_JOINS = `join entry e on e.group_id = p.group_id and e.seq = p.seq
  join a f on f.account_id = case when e.kind = 'reversal' then p.to_account_id else p.from_account_id end
  join a t on t.account_id = case when e.kind = 'reversal' then p.from_account_id else p.to_account_id end`;

const HELD = `('place', 'transit')`;
/** It crosses the bounds of a book. */
export const CROSSES = `(f.kind in ${HELD} or t.kind in ${HELD})
  and not (f.kind in ${HELD} and t.kind in ${HELD} and f.site_id is not distinct from t.site_id)`;
