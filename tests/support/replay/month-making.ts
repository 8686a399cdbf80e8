/** Making up what is bought, priced and made. */
import { derivedId } from '../../../src/platform/ids.ts';
import { dateAt, lotsOf, siteOfPlace } from '../oracle/month-facts.ts';
import { batchesOf, chillerOf, originsOf, outputsOf, partOf, type Maker } from './month-scene.ts';
import { BOUGHT, HOME, ITEMS, KITCHEN, RECIPES, SITES, WORLD } from './month-world.ts';

export const bought: Maker = ({ oneOf, whole, chance, uuid }, base) => {
  const item = oneOf(BOUGHT);
  const quantity = item.unit === 'piece' ? whole(5, 300) : whole(900, 60_000);
  const priceMinor = chance(0.85) ? whole(1, 90_000) : null;
  const placeId = chillerOf(chance(0.75) ? KITCHEN.id : oneOf(SITES).id);
  const weighed = item === ITEMS.tins && chance(0.4) ? { massMg: whole(400, 420) * quantity * 1000 + 7000 } : {};
  return { ...base, kind: 'bought', lotId: uuid(), itemId: item.id, placeId, quantity, ...weighed, priceMinor };
};

export const price: Maker = ({ facts, oneOf, chance, whole }, base) => {
  const lots = facts.flatMap((fact) => (fact.kind === 'bought' ? [fact] : []));
  if (lots.length === 0) return null;
  const { lotId } = oneOf(lots);
  const freeOfCharge = chance(0.08);
  const perQuantity = chance(0.5) ? null : whole(1, 1000);
  return { ...base, kind: 'price', lotId, priceMinor: freeOfCharge ? 0 : whole(1, 60_000), perQuantity, freeOfCharge };
};

export const rate: Maker = ({ nowMs, oneOf, chance, whole }, base) => {
  const perBatch = chance(0.5);
  // at times from a month that may be closed by then: that is refused
  const month = dateAt(WORLD, KITCHEN.id, nowMs - (chance(0.5) ? 30 * 86_400_000 : 0)).slice(0, 7);
  return {
    ...base,
    kind: 'rate',
    rateKind: oneOf(['labour', 'energy', 'overhead', 'packaging']),
    siteId: chance(0.3) ? oneOf(SITES).id : null,
    recipeId: chance(0.3) ? oneOf(RECIPES).id : null,
    perBatchMinor: perBatch ? whole(1, 2500) : null,
    perKgMinor: perBatch ? null : whole(1, 150),
    fromDate: `${month}-${String(chance(0.5) ? 1 : whole(1, 28)).padStart(2, '0')}`,
    throughDate: chance(0.2) ? `${month}-28` : null,
  };
};

export const batch: Maker = ({ oneOf, chance, uuid }, base) => {
  const siteId = chance(0.8) ? KITCHEN.id : HOME.id;
  return { ...base, kind: 'batch', batchId: uuid(), siteId, recipeId: oneOf(RECIPES).id };
};

export const input: Maker = (scene, base) => {
  const { facts, stock, oneOf, chance, whole } = scene;
  const choice = batchesOf(facts, !chance(0.1));
  if (choice.length === 0) return null;
  const { batchId, siteId } = oneOf(choice);
  if (chance(0.12)) {
    const item = oneOf([ITEMS.water, ITEMS.trays]);
    const lotId = derivedId('pseudo-lot', item.id);
    const placeId = chillerOf(siteId);
    return { ...base, kind: 'input', lotId, itemId: item.id, placeId, quantity: whole(1, 3000), batchId };
  }
  // what came out of the batch never goes into it again, by whatever way
  const outputs = outputsOf(facts, batchId).map((one) => one.lotId);
  const there = stock.filter((one) => {
    if (siteOfPlace(WORLD, one.placeId) !== siteId) return false;
    const origins = originsOf(facts, one.lot.lotId);
    return !outputs.some((lotId) => origins.has(lotId));
  });
  return there.length === 0 ? null : { ...base, kind: 'input', ...partOf(scene, oneOf(there)), batchId };
};

export const output: Maker = ({ facts, oneOf, chance, roll, uuid }, base) => {
  const fed = batchesOf(facts, true).filter((one) =>
    facts.some((fact) => fact.kind === 'input' && fact.batchId === one.batchId),
  );
  if (fed.length === 0) return null;
  const { batchId, recipeId, siteId } = oneOf(fed);
  const recipe = RECIPES.find((one) => one.id === recipeId);
  const lots = lotsOf(WORLD, facts);
  let inG = 0;
  for (const fact of facts) {
    const lot = fact.kind === 'input' && fact.batchId === batchId ? lots.get(fact.lotId) : undefined;
    if (fact.kind === 'input' && lot && lot.itemId !== ITEMS.trays.id) {
      inG += ((lot.massMg / lot.quantity) * fact.quantity) / 1000;
    }
  }
  const planned = (inG * (recipe?.expectedYieldPpm ?? 0)) / 1_000_000;
  const quantity = Math.max(1, Math.round(planned * (chance(0.5) ? 1 : roll() * 1.3)));
  const itemId = recipe?.itemId ?? '';
  return { ...base, kind: 'output', batchId, lotId: uuid(), itemId, placeId: chillerOf(siteId), quantity };
};

export const completion: Maker = ({ facts, oneOf, chance, whole }, base) => {
  const open = batchesOf(facts, true).filter((one) => outputsOf(facts, one.batchId).length > 0);
  if (open.length === 0) return null;
  const gainsMg = chance(0.4) ? whole(1, 3000) * 1000 : 0;
  return { ...base, kind: 'completion', batchId: oneOf(open).batchId, gainsMg };
};

export const packing: Maker = (scene, base) => {
  const { facts, stock, oneOf, chance, roll, whole, uuid } = scene;
  const made = stock.flatMap((one) => {
    const born = facts.find((fact) => fact.kind === 'output' && fact.lotId === one.lot.lotId);
    if (born?.kind !== 'output' || one.quantity < 400) return [];
    const there = siteOfPlace(WORLD, one.placeId) === siteOfPlace(WORLD, born.placeId);
    return there ? [{ one, batchId: born.batchId }] : [];
  });
  if (made.length === 0) return null;
  const { one, batchId } = oneOf(made);
  const from = partOf(scene, one, whole(400, one.quantity));
  const quantity = Math.max(1, Math.floor((from.quantity / 300) * (0.6 + roll() * 0.4)));
  const weighed = chance(0.4) ? { massMg: quantity * whole(290, 310) * 1000 + 3000 } : {};
  const packs = { lotId: uuid(), itemId: ITEMS.pack.id, placeId: one.placeId, quantity, ...weighed };
  return { ...base, kind: 'packing', batchId, fills: [{ from, packs }] };
};

export const conversion: Maker = (scene, base) => {
  const packs = scene.stock.filter((one) => one.lot.itemId === ITEMS.pack.id);
  if (packs.length === 0) return null;
  const from = partOf(scene, scene.oneOf(packs));
  const { placeId } = from;
  const into = { lotId: scene.uuid(), itemId: ITEMS.soup.id, placeId, quantity: from.quantity * 300 };
  return { ...base, kind: 'conversion', from, into };
};
