/** SQL on item. */
import type { DayOneRule, LifeAnchor } from '../../../domain/use-by.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Page } from '../../../platform/http/paging.ts';
import { byId } from '../store.ts';

/** Fits the domain's LifeRule; at least one of lifeDays and lifeH is there. */
interface ItemLife {
  readonly lifeDays?: number | undefined;
  readonly lifeH?: number | undefined;
  readonly anchor: LifeAnchor;
  readonly dayOne: DayOneRule;
}

export interface ItemRow {
  readonly itemId: string;
  readonly code: string;
  readonly name: string;
  readonly kind: 'ingredient' | 'prepared' | 'packed' | 'packaging';
  /** fixed for ever */
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  /** nominal mass of one unit in whole milligrams: 1 for mg, 1000 for g */
  readonly unitMassMg: number;
  /** 14 digits */
  readonly gtin: string | null;
  /** in the order of Annex II */
  readonly allergens: readonly string[];
  readonly mayContain: readonly string[];
  readonly handling: 'raw' | 'ready-to-eat';
  readonly storageInstruction: string;
  readonly life: ItemLife | null;
  readonly openedLifeH: number | null;
  /** as printed on packs sold over a counter */
  readonly ingredients: string | null;
  /** group of items in reports, in the group's own words */
  readonly category: string | null;
  readonly storage: 'chilled' | 'frozen' | 'ambient';
  /** IDDSI level 0 to 7 */
  readonly textureLevel: number | null;
  /** codes of shared/diets.json */
  readonly dietCodes: readonly string[];
  readonly portionsPerUnit: number | null;
  /** what the food of an opened or regenerated unit is booked as */
  readonly openedItemId: string | null;
  readonly frozenLifeDays: number | null;
  readonly thawedLifeH: number | null;
  readonly regeneratedLifeH: number | null;
  readonly entryUnits: readonly { readonly code: string; readonly quantity: number }[];
  readonly lotTracked: boolean;
  readonly active: boolean;
  readonly version: number;
}

const COLUMNS = `i.item_id as "itemId", i.code, i.name, i.kind, i.unit, i.net_weight_mg as "unitMassMg", i.gtin, i.allergens,
  i.may_contain as "mayContain", i.handling, i.storage_instruction as "storageInstruction",
  case when i.life_anchor is null then null else jsonb_strip_nulls(jsonb_build_object(
    'lifeDays', i.life_days, 'lifeH', i.life_h, 'anchor', i.life_anchor, 'dayOne', i.life_day_one)) end as life,
  i.opened_life_h as "openedLifeH", i.category, i.storage, i.texture_level as "textureLevel", i.diet_codes as "dietCodes",
  i.portions_per_unit as "portionsPerUnit", i.opened_item_id as "openedItemId", i.frozen_life_days as "frozenLifeDays",
  i.thawed_life_h as "thawedLifeH", i.regenerated_life_h as "regeneratedLifeH", i.entry_units as "entryUnits",
  i.ingredients, i.lot_tracked as "lotTracked", i.active, i.version`;

export async function findItems(tx: Tx, itemIds: readonly string[]): Promise<Map<string, ItemRow>> {
  const rows = await tx.query<ItemRow>(
    `select ${COLUMNS} from item i where i.group_id = $1::uuid and i.item_id = any($2::uuid[])`,
    [tx.groupId, itemIds],
  );
  return byId(rows, (row) => row.itemId);
}

/** The list of ingredients of an item at a time; today's where there was none then. */
export async function findIngredients(tx: Tx, itemId: string, at: Date): Promise<string | null> {
  const rows = await tx.query<{ ingredients: string | null }>(
    `select coalesce((select v.content ->> 'ingredients' from catalogue_version v
              where v.group_id = i.group_id and v.kind = 'item' and v.object_id = i.item_id and v.recorded_at <= $3::timestamptz
              order by v.version desc limit 1), i.ingredients) as ingredients
       from item i where i.group_id = $1::uuid and i.item_id = $2::uuid`,
    [tx.groupId, itemId, at],
  );
  return rows[0]?.ingredients ?? null;
}

/** Keyed by code. */
export async function findItemsByCode(tx: Tx, codes: readonly string[]): Promise<Map<string, ItemRow>> {
  const rows = await tx.query<ItemRow>(
    `select ${COLUMNS} from item i where i.group_id = $1::uuid and i.code = any($2::text[])`,
    [tx.groupId, codes],
  );
  return byId(rows, (row) => row.code);
}

export async function lockItem(tx: Tx, itemId: string): Promise<ItemRow | null> {
  const rows = await tx.query<ItemRow>(
    `select ${COLUMNS} from item i where i.group_id = $1::uuid and i.item_id = $2::uuid for update`,
    [tx.groupId, itemId],
  );
  return rows[0] ?? null;
}

/** Items by code, one more than the page holds. */
export async function listItems(
  tx: Tx,
  filter: { readonly kind: string | null; readonly code: string | null },
  page: Page,
): Promise<ItemRow[]> {
  return tx.query<ItemRow>(
    `select ${COLUMNS} from item i
      where i.group_id = $1::uuid and ($2::text is null or i.kind = $2::text) and ($3::text is null or i.code = $3::text)
        and ($4::text is null or (i.code, i.item_id) > ($4::text, $5::uuid))
      order by i.code, i.item_id limit $6::int`,
    [tx.groupId, filter.kind, filter.code, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

function practiceOf(item: ItemRow): readonly unknown[] {
  return [
    item.storage,
    item.textureLevel,
    item.dietCodes,
    item.portionsPerUnit,
    item.openedItemId,
    item.frozenLifeDays,
    item.thawedLifeH,
    item.regeneratedLifeH,
    JSON.stringify(item.entryUnits),
    item.category,
    item.ingredients,
  ];
}

export async function insertItem(tx: Tx, item: ItemRow): Promise<void> {
  await tx.query(
    `insert into item (group_id, item_id, code, name, kind, unit, net_weight_mg, gtin, allergens, may_contain, handling,
       storage_instruction, life_days, life_h, life_anchor, life_day_one, opened_life_h, lot_tracked, active, version,
       storage, texture_level, diet_codes, portions_per_unit, opened_item_id, frozen_life_days, thawed_life_h,
       regenerated_life_h, entry_units, category, ingredients)
     values ($1::uuid, $2::uuid, $3::text, $4::text, $5::text, $6::text, $7::bigint, $8::text, $9::text[], $10::text[],
       $11::text, $12::text, $13::int, $14::int, $15::text, $16::text, $17::int, $18::boolean, $19::boolean, $20::int,
       $21::text, $22::smallint, $23::text[], $24::int, $25::uuid, $26::int, $27::int, $28::int, $29::jsonb, $30::text, $31::text)`,
    [
      tx.groupId,
      item.itemId,
      item.code,
      item.name,
      item.kind,
      item.unit,
      item.unitMassMg,
      item.gtin,
      item.allergens,
      item.mayContain,
      item.handling,
      item.storageInstruction,
      item.life?.lifeDays ?? null,
      item.life?.lifeH ?? null,
      item.life?.anchor ?? null,
      item.life?.dayOne ?? null,
      item.openedLifeH,
      item.lotTracked,
      item.active,
      item.version,
      ...practiceOf(item),
    ],
  );
}

export async function updateItem(tx: Tx, item: ItemRow): Promise<void> {
  await tx.query(
    `update item set name = $3::text, gtin = $4::text, allergens = $5::text[], may_contain = $6::text[],
       storage_instruction = $7::text, life_days = $8::int, life_h = $9::int, life_anchor = $10::text,
       life_day_one = $11::text, opened_life_h = $12::int, active = $13::boolean, version = $14::int,
       storage = $15::text, texture_level = $16::smallint, diet_codes = $17::text[], portions_per_unit = $18::int,
       opened_item_id = $19::uuid, frozen_life_days = $20::int, thawed_life_h = $21::int, regenerated_life_h = $22::int,
       entry_units = $23::jsonb, category = $24::text, ingredients = $25::text
      where group_id = $1::uuid and item_id = $2::uuid`,
    [
      tx.groupId,
      item.itemId,
      item.name,
      item.gtin,
      item.allergens,
      item.mayContain,
      item.storageInstruction,
      item.life?.lifeDays ?? null,
      item.life?.lifeH ?? null,
      item.life?.anchor ?? null,
      item.life?.dayOne ?? null,
      item.openedLifeH,
      item.active,
      item.version,
      ...practiceOf(item),
    ],
  );
}
