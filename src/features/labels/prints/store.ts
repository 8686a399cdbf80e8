/** SQL on label_print and what it was of. */
import type { PrintReason } from '../../../domain/labels/prints.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';
import type { LayoutCode } from '../drawing/index.ts';
import type { CrateLabel } from '../crates/content.ts';
import type { LotLabels } from '../lot-label.ts';

export interface PrintHead {
  readonly printId: string;
  readonly siteId: string;
  readonly aboutKind: 'lot' | 'packing-run' | 'relabel' | 'crate' | 'dispatch';
  readonly aboutId: string;
  readonly reason: PrintReason;
  readonly note: string | null;
  readonly layout: LayoutCode;
  readonly copies: number;
  readonly labels: number;
  readonly sisterSerial: string | null;
  readonly secondPersonId: string | null;
  readonly printedAt: Date;
  readonly printedBy: string;
}

const HEAD = `p.print_id as "printId", p.site_id as "siteId", p.about_kind as "aboutKind", p.about_id as "aboutId", p.reason, p.note,
  p.layout, p.copies, p.labels, p.sister_serial as "sisterSerial", p.second_person_id as "secondPersonId",
  p.printed_at as "printedAt", p.printed_by as "printedBy"`;

/** The labels as they were drawn: runs of packs that differ in their serial, or crates. */
export interface PrintContent {
  readonly packs: readonly LotLabels[];
  readonly crates: readonly CrateLabel[];
}

export interface NewPack {
  readonly lotId: string;
  readonly serial: string | null;
  readonly labels: number;
  readonly useByMs: number | null;
}

export async function insertPrint(
  tx: Tx,
  print: PrintHead & { readonly content: PrintContent; readonly packs: readonly NewPack[] },
): Promise<void> {
  await tx.query(
    `with made as (
       insert into label_print (group_id, print_id, site_id, about_kind, about_id, reason, note, layout, copies, labels,
              sister_serial, second_person_id, content, printed_at, printed_by)
       values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::uuid, $6::text, $7::text, $8::text, $9::int, $10::int,
              $11::text, $12::uuid, $13::jsonb, $14::timestamptz, $15::uuid)
       returning print_no)
     insert into label_print_pack (group_id, print_id, lot_id, serial, labels, use_by_at, print_no)
     select $1::uuid, $2::uuid, r."lotId", coalesce(r.serial, ''), r.labels, to_timestamp(r."useByMs" / 1000), made.print_no
       from made, jsonb_to_recordset($16::jsonb) as r("lotId" uuid, serial text, labels int, "useByMs" float8)`,
    [
      tx.groupId,
      print.printId,
      print.siteId,
      print.aboutKind,
      print.aboutId,
      print.reason,
      print.note,
      print.layout,
      print.copies,
      print.labels,
      print.sisterSerial,
      print.secondPersonId,
      JSON.stringify(print.content),
      print.printedAt,
      print.printedBy,
      JSON.stringify(print.packs),
    ],
  );
}

export async function insertPrintedCrates(
  tx: Tx,
  printId: string,
  codes: readonly string[],
  labels: number,
): Promise<void> {
  await tx.query(
    `insert into label_print_crate (group_id, print_id, crate_code, labels)
     select $1::uuid, $2::uuid, c.code, $4::int from unnest($3::text[]) as c(code)`,
    [tx.groupId, printId, codes, labels],
  );
}

/** Of these crates, those that have a label. */
export async function listPrintedCrates(tx: Tx, codes: readonly string[]): Promise<Set<string>> {
  const rows = await tx.query<{ code: string }>(
    `select distinct c.crate_code as code from label_print_crate c
      where c.group_id = $1::uuid and c.crate_code = any($2::text[])`,
    [tx.groupId, codes],
  );
  return new Set(rows.map((row) => row.code));
}

export async function listCratesOfPrint(tx: Tx, printId: string): Promise<{ code: string; labels: number }[]> {
  return tx.query(
    `select c.crate_code as code, c.labels from label_print_crate c
      where c.group_id = $1::uuid and c.print_id = $2::uuid order by c.crate_code`,
    [tx.groupId, printId],
  );
}

/** Crates that get labels wait for whoever prints some of them now. */
export async function lockCratePrinting(tx: Tx): Promise<void> {
  await tx.query('select pg_advisory_xact_lock(hashtextextended($1::text, 36))', [`crate-labels:${tx.groupId}`]);
}

/** Two who print labels of one lot at once come one after the other, so that the second sees what the first printed. */
export async function lockPrinting(tx: Tx, lotIds: readonly string[]): Promise<void> {
  await tx.query(
    `select s.lot_id from lot_state s
      where s.group_id = $1::uuid and s.lot_id = any($2::uuid[]) order by s.lot_id for no key update`,
    [tx.groupId, lotIds],
  );
}

export interface PrintedRow {
  readonly lotId: string;
  /** empty: a counted lot */
  readonly serial: string;
  /** of all prints together */
  readonly labels: number;
}

/** What was printed of these lots so far. A quarantine label is none that a pack goes out with. */
export async function listPrinted(tx: Tx, lotIds: readonly string[]): Promise<PrintedRow[]> {
  return tx.query<PrintedRow>(
    `select k.lot_id as "lotId", k.serial, sum(k.labels)::int8 as labels
       from label_print_pack k
       join label_print p on p.group_id = k.group_id and p.print_id = k.print_id
      where k.group_id = $1::uuid and k.lot_id = any($2::uuid[]) and p.reason <> 'quarantine'
      group by k.lot_id, k.serial`,
    [tx.groupId, lotIds],
  );
}

/** Prints at the actor's sites, the newest first, one more than the page holds. */
export async function listPrints(
  tx: Tx,
  scope: SiteScope,
  filter: { siteId: string | null; lotId: string | null; serial: string | null; reason: string | null },
  page: Page,
): Promise<(PrintHead & { readonly printNo: number })[]> {
  return tx.query<PrintHead & { readonly printNo: number }>(
    `select ${HEAD}, p.print_no as "printNo" from label_print p
      where p.group_id = $1::uuid and ($2::boolean or p.site_id = any($3::uuid[]))
        and ($4::uuid is null or p.site_id = $4::uuid) and ($5::text is null or p.reason = $5::text)
        and ($6::uuid is null or exists (select from label_print_pack k
              where k.group_id = p.group_id and k.print_id = p.print_id and k.lot_id = $6::uuid
                and ($7::text is null or k.serial = $7::text)))
        and ($8::int8 is null or p.print_no < $8::int8)
      order by p.print_no desc limit $9::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.reason,
      filter.lotId,
      filter.serial,
      page.after?.[0] ?? null,
      page.limit + 1,
    ],
  );
}

export async function findPrint(
  tx: Tx,
  scope: SiteScope,
  printId: string,
): Promise<(PrintHead & { readonly content: PrintContent }) | null> {
  const rows = await tx.query<PrintHead & { readonly content: PrintContent }>(
    `select ${HEAD}, p.content from label_print p
      where p.group_id = $1::uuid and ($2::boolean or p.site_id = any($3::uuid[])) and p.print_id = $4::uuid`,
    [tx.groupId, scope.all, scope.siteIds, printId],
  );
  return rows[0] ?? null;
}

export interface PrintedPackRow {
  readonly printId: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly serial: string;
  readonly labels: number;
  readonly useByMs: number | null;
}

/** Every print of the packs of one print, in the order in which they were made: what came after says whether it still holds. */
export async function listPrintsOfSamePacks(tx: Tx, printId: string): Promise<PrintedPackRow[]> {
  return tx.query<PrintedPackRow>(
    `select k.print_id as "printId", k.lot_id as "lotId", l.code as "lotCode", i.name as "itemName", k.serial, k.labels,
            (extract(epoch from k.use_by_at) * 1000)::int8 as "useByMs"
       from label_print_pack mine
       join label_print_pack k on k.group_id = mine.group_id and k.lot_id = mine.lot_id and k.serial = mine.serial
        and k.print_no >= mine.print_no
       join lot l on l.group_id = k.group_id and l.lot_id = k.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where mine.group_id = $1::uuid and mine.print_id = $2::uuid
      order by l.code, length(k.serial), k.serial, k.print_no`,
    [tx.groupId, printId],
  );
}

export interface PackPrintRow {
  readonly printId: string;
  readonly lotId: string;
  readonly serial: string;
  readonly useByMs: number | null;
  readonly printedAt: Date;
}

/** Every print of these packs, in the order in which they were made. Serial: empty for a counted lot. */
export async function listPrintsOfPacks(
  tx: Tx,
  packs: readonly { readonly lotId: string; readonly serial: string }[],
): Promise<PackPrintRow[]> {
  return tx.query<PackPrintRow>(
    `select k.print_id as "printId", k.lot_id as "lotId", k.serial, (extract(epoch from k.use_by_at) * 1000)::int8 as "useByMs",
            p.printed_at as "printedAt"
       from jsonb_to_recordset($2::jsonb) as r("lotId" uuid, serial text)
       join label_print_pack k on k.group_id = $1::uuid and k.lot_id = r."lotId" and k.serial = r.serial
       join label_print p on p.group_id = k.group_id and p.print_id = k.print_id
      order by k.print_no`,
    [tx.groupId, JSON.stringify(packs)],
  );
}
