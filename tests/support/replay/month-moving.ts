/** Making up where food goes, what is counted, and what is undone. */
import { siteOfPlace, type MonthFact } from '../oracle/month-facts.ts';
import { balancesOf } from '../oracle/month-postings.ts';
import { chillerOf, partOf, type Maker } from './month-scene.ts';
import { quarantineOf, SITES, WORLD } from './month-world.ts';

export const move: Maker = (scene, base) => {
  const { any, oneOf } = scene;
  if (any === null) return null;
  const siteId = siteOfPlace(WORLD, any.placeId);
  const others = WORLD.places.filter((one) => one.siteId === siteId && one.id !== any.placeId);
  return { ...base, kind: 'move', ...partOf(scene, any), toPlaceId: oneOf(others).id };
};

export const departure: Maker = (scene, base) => {
  const { any, oneOf, uuid } = scene;
  if (any === null) return null;
  const others = SITES.filter((one) => one.id !== siteOfPlace(WORLD, any.placeId));
  return { ...base, kind: 'departure', dispatchId: uuid(), toSiteId: oneOf(others).id, lines: [partOf(scene, any)] };
};

export const arrival: Maker = ({ facts, oneOf, chance, whole }, base) => {
  const roads = [...balancesOf(WORLD, facts)].filter(([key, quantity]) => key.includes('|road:') && quantity > 0);
  if (roads.length === 0) return null;
  const [key, there] = oneOf(roads);
  const [lotId = '', road = ''] = key.split('|');
  const dispatchId = road.slice('road:'.length);
  const left = facts.find((fact) => fact.kind === 'departure' && fact.dispatchId === dispatchId);
  if (left?.kind !== 'departure') return null;
  const quantity = chance(0.6) ? there : whole(1, there);
  return { ...base, kind: 'arrival', dispatchId, lines: [{ lotId, placeId: chillerOf(left.toSiteId), quantity }] };
};

export const use: Maker = (scene, base) => {
  const { any, oneOf, chance } = scene;
  if (any === null) return null;
  const purpose = chance(0.5) ? 'service' : oneOf(['staff-meal', 'donation', 'tasting', 'laboratory'] as const);
  return { ...base, kind: 'use', ...partOf(scene, any), purpose };
};

export const discard: Maker = (scene, base) => {
  const { any, oneOf, chance } = scene;
  if (any === null) return null;
  const reason = oneOf(['trim', 'over-production', 'past-use-by', 'damaged', 'temperature', 'seal-failure']);
  const destination = oneOf(['composting', 'anaerobic-digestion', 'animal-feed', 'refuse']);
  const material = chance(0.4) ? 'inedible-parts' : 'food';
  return { ...base, kind: 'discard', ...partOf(scene, any), reason, destination, material };
};

export const backFromService: Maker = ({ facts, oneOf, whole }, base) => {
  const used = facts.flatMap((fact) => (fact.kind === 'use' && fact.purpose === 'service' ? [fact] : []));
  if (used.length === 0) return null;
  const one = oneOf(used);
  const placeId = quarantineOf(siteOfPlace(WORLD, one.placeId));
  return { ...base, kind: 'back-from-service', lotId: one.lotId, placeId, quantity: whole(1, one.quantity) };
};

export const backToSupplier: Maker = (scene, base) => {
  const bought = scene.stock.filter((one) => one.lot.bought !== null);
  return bought.length === 0 ? null : { ...base, kind: 'back-to-supplier', ...partOf(scene, scene.oneOf(bought)) };
};

export const count: Maker = ({ any, chance, whole, roll }, base) => {
  if (any === null) return null;
  const counted = chance(0.2) ? any.quantity + whole(1, 40) : Math.floor(any.quantity * roll());
  return { ...base, kind: 'count', placeId: any.placeId, lines: [{ lotId: any.lot.lotId, counted }] };
};

const STAND_FOR_EVER: readonly MonthFact['kind'][] = [
  'price',
  'rate',
  'batch',
  'completion',
  'reversal',
  'close',
  'reopening',
];

export const reversal: Maker = ({ facts, oneOf }, base) => {
  const undone = new Set(facts.flatMap((fact) => (fact.kind === 'reversal' ? [fact.ofFactId] : [])));
  const choice = facts.filter((fact) => !STAND_FOR_EVER.includes(fact.kind) && !undone.has(fact.id));
  return choice.length === 0 ? null : { ...base, kind: 'reversal', ofFactId: oneOf(choice).id };
};
