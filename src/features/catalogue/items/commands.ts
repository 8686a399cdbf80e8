/** Refusals: `allergen-unknown`, `diet-unknown`, `rule-broken`, `not-found`, `code-taken`, `version-mismatch`. */
import { isAllergenCode, unionAllergens } from '../../../domain/allergens.ts';
import { isDietCode } from '../../../domain/diets.ts';
import { notFound, Refused } from '../../../domain/errors.ts';
import { isValidGtin } from '../../../domain/gs1/index.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { requireVersion } from '../../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../../platform/http/replies.ts';
import { brokenRule, insertVersions } from '../store.ts';
import type { changeItem, createItem, getItem, listItems } from './contract.ts';
import * as store from './store.ts';

type Practice = Pick<
  store.ItemRow,
  | 'category'
  | 'storage'
  | 'textureLevel'
  | 'dietCodes'
  | 'portionsPerUnit'
  | 'openedItemId'
  | 'frozenLifeDays'
  | 'thawedLifeH'
  | 'regeneratedLifeH'
  | 'entryUnits'
>;

const PLAIN: Practice = {
  category: null,
  storage: 'chilled',
  textureLevel: null,
  dietCodes: [],
  portionsPerUnit: null,
  openedItemId: null,
  frozenLifeDays: null,
  thawedLifeH: null,
  regeneratedLifeH: null,
  entryUnits: [],
};

/** A unit that is itself a mass weighs what it says. */
const MASS_OF_UNIT_MG: Readonly<Record<string, number>> = { mg: 1, g: 1000 };

function answerOf(item: store.ItemRow): store.ItemRow & { readonly netWeightG?: number } {
  return item.unit === 'piece' ? { ...item, netWeightG: item.unitMassMg / 1000 } : item;
}

function unitMassMgOf(unit: string, given: number | undefined): number {
  const bySelf = MASS_OF_UNIT_MG[unit];
  const massMg = given ?? bySelf;
  if (massMg === undefined) throw brokenRule('#/unitMassMg', `What one ${unit} weighs has to be said.`);
  if (bySelf !== undefined && massMg !== bySelf) throw brokenRule('#/unitMassMg', `One ${unit} is ${bySelf} mg.`);
  return massMg;
}

/** Known codes, each once, in the order of Annex II. */
function allergensOf(codes: readonly string[], field: string): string[] {
  const errors = codes.flatMap((code, at) =>
    isAllergenCode(code) ? [] : [{ detail: `${code} is not in the list`, pointer: `#/${field}/${at}` }],
  );
  if (errors.length > 0) throw new Refused('allergen-unknown', `${errors[0]?.detail ?? ''}.`, { errors });
  return unionAllergens([codes]);
}

/** 14 digits, zeros in front. */
function gtinOf(gtin: string | null): string | null {
  if (gtin !== null && !isValidGtin(gtin)) throw brokenRule('#/gtin', 'The check digit of the GTIN is not right.');
  return gtin?.padStart(14, '0') ?? null;
}

function requireDiets(codes: readonly string[]): void {
  const errors = codes.flatMap((code, at) =>
    isDietCode(code) ? [] : [{ detail: `${code} is not in the list`, pointer: `#/dietCodes/${at}` }],
  );
  if (errors.length > 0) throw new Refused('diet-unknown', `${errors[0]?.detail ?? ''}.`, { errors });
}

/** What is said of how kitchens handle it; what is left out stays as it was. */
function practiceOf(body: Context<typeof changeItem>['body'], before: Practice): Practice {
  const given = <T>(value: T | undefined, was: T): T => (value === undefined ? was : value);
  if (body.dietCodes) requireDiets(body.dietCodes);
  const entryUnits = given(body.entryUnits, before.entryUnits);
  if (new Set(entryUnits.map((one) => one.code)).size < entryUnits.length)
    throw brokenRule('#/entryUnits', 'Each entry unit is said once.');
  return {
    category: given(body.category, before.category),
    storage: given(body.storage, before.storage),
    textureLevel: given(body.textureLevel, before.textureLevel),
    dietCodes: [...new Set(given(body.dietCodes, before.dietCodes))].sort(),
    portionsPerUnit: given(body.portionsPerUnit, before.portionsPerUnit),
    openedItemId: given(body.openedItemId, before.openedItemId),
    frozenLifeDays: given(body.frozenLifeDays, before.frozenLifeDays),
    thawedLifeH: given(body.thawedLifeH, before.thawedLifeH),
    regeneratedLifeH: given(body.regeneratedLifeH, before.regeneratedLifeH),
    entryUnits,
  };
}

async function requireOpenedItem({ tx }: Pick<Context, 'tx'>, openedItemId: string | null): Promise<void> {
  if (openedItemId !== null && !(await store.findItems(tx, [openedItemId])).has(openedItemId)) throw notFound('item');
}

function requireSound(item: store.ItemRow): void {
  if (item.kind === 'packed' && item.unit !== 'piece') throw brokenRule('#/unit', 'Packs are counted in pieces.');
  if (item.life && item.life.lifeDays === undefined && item.life.lifeH === undefined) {
    throw brokenRule('#/life', 'A life has days or hours.');
  }
  if (!item.lotTracked && item.allergens.length > 0) {
    throw brokenRule('#/lotTracked', 'An item with an allergen is tracked by lot.');
  }
}

export async function createItemCommand(context: Context<typeof createItem>): Promise<Reply> {
  const { tx, body, factId } = context;
  const item: store.ItemRow = {
    itemId: factId,
    code: body.code,
    name: body.name,
    kind: body.kind,
    unit: body.unit,
    unitMassMg: unitMassMgOf(body.unit, body.unitMassMg),
    gtin: gtinOf(body.gtin ?? null),
    allergens: allergensOf(body.allergens, 'allergens'),
    mayContain: allergensOf(body.mayContain ?? [], 'mayContain'),
    handling: body.handling,
    storageInstruction: body.storageInstruction,
    life: body.life ?? null,
    openedLifeH: body.openedLifeH ?? null,
    ingredients: body.ingredients ?? null,
    ...practiceOf(body, PLAIN),
    lotTracked: body.lotTracked ?? true,
    active: true,
    version: 1,
  };
  requireSound(item);
  await requireOpenedItem(context, item.openedItemId);
  const answer = answerOf(item);
  // From here on only success.
  await store.insertItem(tx, item);
  await insertVersions(context, [{ kind: 'item', objectId: factId, content: answer }]);
  return createdReply(`/v1/items/${factId}`, answer, null);
}

export async function listItemsQuery({ tx, query, path }: Context<typeof listItems>): Promise<Reply> {
  const page = pageOf(query, ['text', 'uuid']);
  const rows = await store.listItems(tx, { kind: query.kind ?? null, code: query.code ?? null }, page);
  return pageReply(path, query, page, rows.map(answerOf), (row) => [row.code, row.itemId]);
}

export async function getItemQuery({ tx, params }: Context<typeof getItem>): Promise<Reply> {
  const item = (await store.findItems(tx, [params.itemId])).get(params.itemId);
  if (!item) throw notFound('item');
  return stateReply(answerOf(item));
}

export async function changeItemCommand(context: Context<typeof changeItem>): Promise<Reply> {
  const { tx, params, body, ifMatch } = context;
  const item = await store.lockItem(tx, params.itemId);
  if (!item) throw notFound('item');
  requireVersion(ifMatch, item.version);
  const changed: store.ItemRow = {
    ...item,
    name: body.name ?? item.name,
    gtin: body.gtin === undefined ? item.gtin : gtinOf(body.gtin),
    allergens: body.allergens ? allergensOf(body.allergens, 'allergens') : item.allergens,
    mayContain: body.mayContain ? allergensOf(body.mayContain, 'mayContain') : item.mayContain,
    storageInstruction: body.storageInstruction ?? item.storageInstruction,
    life: body.life === undefined ? item.life : body.life,
    openedLifeH: body.openedLifeH === undefined ? item.openedLifeH : body.openedLifeH,
    ingredients: body.ingredients === undefined ? item.ingredients : body.ingredients,
    ...practiceOf(body, item),
    active: body.active ?? item.active,
    version: item.version + 1,
  };
  requireSound(changed);
  await requireOpenedItem(context, changed.openedItemId);
  const answer = answerOf(changed);
  // From here on only success.
  await store.updateItem(tx, changed);
  await insertVersions(context, [{ kind: 'item', objectId: item.itemId, content: answer }]);
  return stateReply(answer);
}
