/** SQL of scans. */
import type { Tx } from '../../platform/db/db.ts';

export interface ScanRow {
  readonly scanId: string;
  readonly siteId: string;
  readonly kind: 'arrival' | 'put-away' | 'use' | 'discard' | 'count' | 'conversion';
  /** as read */
  readonly code: string;
  /** what a symbol of another form names, as our own label would say it; null: as the code */
  readonly named: string | null;
  readonly lotId: string | null;
  readonly serial: string | null;
  readonly dispatchId: string | null;
  /** as said, or where a damaged pack is set aside */
  readonly placeId: string | null;
  /** where its lot was presumed to be at the site; null while the code is unknown */
  readonly presumedPlaceId: string | null;
  /** the total that it sets; null for serials, counts and codes that are unknown */
  readonly totalId: string | null;
  readonly quantity: number | null;
  readonly condition: string | null;
  readonly reason: string | null;
  readonly destination: string | null;
  readonly note: Readonly<Record<string, unknown>>;
  readonly occurredAtMs: number;
  readonly occurredOn: string;
  readonly clockOffsetMs: number | null;
  readonly actorId: string;
  readonly contentHash: Buffer;
  readonly outcome: 'recorded' | 'already-recorded' | 'awaiting-identity' | 'reversed';
}

const COLUMNS = `s.scan_id as "scanId", s.site_id as "siteId", s.kind, s.code, s.named, s.lot_id as "lotId", s.serial,
  s.dispatch_id as "dispatchId", s.place_id as "placeId", s.presumed_place_id as "presumedPlaceId", s.total_id as "totalId",
  s.quantity, s.condition, s.reason, s.destination, s.note,
  (extract(epoch from s.occurred_at) * 1000)::int8 as "occurredAtMs", s.occurred_on as "occurredOn",
  s.clock_offset_ms as "clockOffsetMs", s.actor_id as "actorId", s.content_hash as "contentHash", s.outcome`;

/** A row without what is null: absent reads as null, and thousands of nulls take time to send. */
function given({ contentHash, ...row }: ScanRow): Record<string, unknown> {
  const fields: Record<string, unknown> = { hash: contentHash.toString('hex') };
  for (const [name, value] of Object.entries(row)) if (value !== null) fields[name] = value;
  return fields;
}

export async function insertScans(tx: Tx, rows: readonly ScanRow[], nowMs: number): Promise<void> {
  if (rows.length === 0) return;
  await tx.query(
    `insert into scan (group_id, scan_id, site_id, kind, code, named, lot_id, serial, dispatch_id, place_id, presumed_place_id, total_id,
            quantity, condition, reason, destination, note, occurred_at, occurred_on, clock_offset_ms, recorded_at, actor_id,
            content_hash, outcome)
     select $1::uuid, r."scanId", r."siteId", r.kind, r.code, r.named, r."lotId", r.serial, r."dispatchId", r."placeId",
            r."presumedPlaceId", r."totalId", r.quantity, r.condition, r.reason, r.destination, coalesce(r.note, '{}'::jsonb),
            to_timestamp(r."occurredAtMs" / 1000.0), r."occurredOn", r."clockOffsetMs", to_timestamp($3::float8 / 1000),
            r."actorId", decode(r."hash", 'hex'), r.outcome
       from jsonb_to_recordset($2::jsonb) as r("scanId" uuid, "siteId" uuid, kind text, code text, named text, "lotId" uuid, serial text,
            "dispatchId" uuid, "placeId" uuid, "presumedPlaceId" uuid, "totalId" uuid, quantity int8, condition text,
            reason text, destination text, note jsonb, "occurredAtMs" numeric, "occurredOn" date, "clockOffsetMs" int8,
            "actorId" uuid, hash text, outcome text)`,
    [tx.groupId, JSON.stringify(rows.map(given)), nowMs],
  );
}

interface FoundScan extends ScanRow {
  readonly recordedAt: Date;
  readonly entryIds: string[];
  /** a later scan says what its total is: another one, unless both are of crates */
  readonly superseded: boolean;
}

export async function findScan(tx: Tx, scanId: string): Promise<FoundScan | null> {
  const rows = await tx.query<FoundScan>(
    `select ${COLUMNS}, s.recorded_at as "recordedAt",
            coalesce((select latest.scan_id <> s.scan_id and not (latest.crate and s.note ? 'crateScanId')
                        from (select o.scan_id, o.note ? 'crateScanId' as crate from scan o
                               where o.group_id = s.group_id and o.total_id = s.total_id and o.outcome = 'recorded'
                               order by o.occurred_at desc, o.scan_id desc limit 1) latest), false) as superseded,
            array(select e.entry_id from entry e
                   where e.group_id = s.group_id and e.scan_id = s.scan_id and e.kind <> 'reversal'
                     and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
                   order by e.seq)::text[] as "entryIds"
       from scan s where s.group_id = $1::uuid and s.scan_id = $2::uuid`,
    [tx.groupId, scanId],
  );
  return rows[0] ?? null;
}

export interface SerialKey {
  readonly lotId: string;
  readonly serial: string;
}

export interface SerialRow extends ScanRow {
  /** where the pack is presumed to be when no scan says better */
  readonly receivingPlaceId: string;
  readonly entryId: string | null;
}

/** The entry that stands for a scan, if any. */
const ENTRY_NOW = `(select e.entry_id from entry e
              where e.group_id = s.group_id and e.scan_id = s.scan_id and e.kind <> 'reversal'
                and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
              order by e.seq desc limit 1) as "entryId"`;

/** Every scan of these serials that stands, with the entry that it has now. */
export async function listSerialScans(tx: Tx, keys: readonly SerialKey[]): Promise<SerialRow[]> {
  if (keys.length === 0) return [];
  return tx.query<SerialRow>(
    `select ${COLUMNS}, coalesce(s.presumed_place_id, si.receiving_place_id) as "receivingPlaceId",
            ${ENTRY_NOW}
       from scan s
       join site si on si.group_id = s.group_id and si.site_id = s.site_id
      where s.group_id = $1::uuid and s.outcome <> 'reversed' and s.kind <> 'count'
        and (s.lot_id, s.serial) in (select * from unnest($2::uuid[], $3::text[]))`,
    [tx.groupId, keys.map((key) => key.lotId), keys.map((key) => key.serial)],
  );
}

/** A scan of a total. */
export interface TotalScan extends ScanRow {
  readonly entryId: string | null;
}

/** Every scan of these totals that stands, with the entry that it has now. */
export async function listTotalScans(tx: Tx, totalIds: readonly string[]): Promise<TotalScan[]> {
  if (totalIds.length === 0) return [];
  return tx.query<TotalScan>(
    `select ${COLUMNS}, ${ENTRY_NOW}
       from scan s
      where s.group_id = $1::uuid and s.total_id = any($2::uuid[]) and s.outcome = 'recorded'`,
    [tx.groupId, totalIds],
  );
}

/** Scans of these lots wait here for each other, in key order. Before dispatches and balances. */
export async function lockPaths(tx: Tx, lotIds: readonly string[]): Promise<void> {
  await tx.query(
    `select s.lot_id from lot_state s
      where s.group_id = $1::uuid and s.lot_id = any($2::uuid[])
      order by s.lot_id for no key update`,
    [tx.groupId, lotIds],
  );
}

/** Crates that were seen already, per dispatch. */
export async function listSeenCrates(
  tx: Tx,
  crateCodes: readonly string[],
): Promise<{ dispatchId: string; code: string }[]> {
  if (crateCodes.length === 0) return [];
  return tx.query(
    `select s.dispatch_id as "dispatchId", coalesce(s.named, s.code) as code from scan s
      where s.group_id = $1::uuid and s.kind = 'arrival' and s.outcome in ('recorded', 'already-recorded')
        and s.lot_id is null and s.dispatch_id is not null and coalesce(s.named, s.code) = any($2::text[])`,
    [tx.groupId, crateCodes],
  );
}

/**
 * Scans that may be known by now: of a lot that has appeared, of a crate that is on a dispatch, itself or what is in it, or arrivals that
 * a dispatch to their site carries by now, or one that names the pack; those without any are looked at once, for their finding.
 */
export async function listWaiting(tx: Tx, limit: number): Promise<ScanRow[]> {
  return tx.query<ScanRow>(
    `select ${COLUMNS} from scan s
      where s.group_id = $1::uuid and s.outcome = 'awaiting-identity'
        and (exists (select from lot l
                where l.group_id = s.group_id
                  and (l.code = split_part(coalesce(s.named, s.code), '/', 1) or l.supplier_lot_code = split_part(s.named, '/', 1))
                  and (s.kind <> 'arrival'
                    or not exists (select from finding f
                          where f.group_id = s.group_id and f.kind = 'wrong-site' and f.subject = s.scan_id::text)
                    or exists (select from dispatch_line n
                          join dispatch d on d.group_id = n.group_id and d.dispatch_id = n.dispatch_id
                         where n.group_id = s.group_id and n.lot_id = l.lot_id
                           and (d.to_site_id = s.site_id or split_part(coalesce(s.named, s.code), '/', 2) = any(n.serials)))))
          or s.kind = 'arrival' and exists (
            with recursive inside as (
              select null::uuid as crate_id, coalesce(s.named, s.code) as code
              union
              select c.crate_id, c.code
                from inside i
                join crate o on o.group_id = $1::uuid and o.code = i.code
                join crate_placement p on p.group_id = $1::uuid and p.into_crate_id = o.crate_id
                join crate c on c.group_id = $1::uuid and c.crate_id = p.crate_id)
            select from inside i
              join dispatch_line n on n.group_id = $1::uuid and n.crate_code = i.code))
      order by s.scan_id limit $2::int`,
    [tx.groupId, limit],
  );
}

type Known = Pick<
  ScanRow,
  'scanId' | 'lotId' | 'serial' | 'dispatchId' | 'placeId' | 'presumedPlaceId' | 'totalId' | 'outcome'
>;

/** What scans came to that have their rows already. */
export async function setOutcome(tx: Tx, rows: readonly Known[]): Promise<void> {
  if (rows.length === 0) return;
  await tx.query(
    `update scan s set lot_id = r."lotId", serial = r.serial, dispatch_id = r."dispatchId", place_id = r."placeId",
            presumed_place_id = r."presumedPlaceId", total_id = r."totalId", outcome = r.outcome
       from jsonb_to_recordset($2::jsonb) as r("scanId" uuid, "lotId" uuid, serial text, "dispatchId" uuid, "placeId" uuid,
            "presumedPlaceId" uuid, "totalId" uuid, outcome text)
      where s.group_id = $1::uuid and s.scan_id = r."scanId"`,
    [tx.groupId, JSON.stringify(rows)],
  );
}

export async function markReversed(tx: Tx, scanIds: readonly string[]): Promise<void> {
  await tx.query(`update scan s set outcome = 'reversed' where s.group_id = $1::uuid and s.scan_id = any($2::uuid[])`, [
    tx.groupId,
    scanIds,
  ]);
}
