/** Recipes of stew with a process plan, for tests of what is checked. */
import { randomUUID } from 'node:crypto';
import { kitchenOf, type Kitchen } from '../../support/kitchen.ts';

const ofLoad = { per: 'load', requiredFor: 'release', critical: true } as const;
const source = 'The plan of this test';

/** 70 °C for two minutes, z 7.5; cooked on, it may pass */
export const COOK = {
  ...ofLoad,
  ...{ code: 'cook', label: 'Cooked through', stage: 'cook', kind: 'lethality', repeatable: true, source },
  limit: { target: { referenceTemperatureC: 70, zBelowC: 7.5, zAboveC: 7.5, targetMinutes: 2 } },
};

/** FSAI Guidance Note 15: to 3 °C within 150 minutes */
export const CHILL = {
  ...ofLoad,
  ...{ code: 'chill', label: 'Chilled in time', stage: 'chill', kind: 'cooling', repeatable: false, source },
  limit: { coolingRule: { points: [{ fromC: null, toC: 3, withinMinutes: 150 }] } },
};

export const SEAL = {
  ...ofLoad,
  ...{ code: 'seal', label: 'Seals hold', stage: 'pack', kind: 'seal-test', repeatable: false, source },
  ...{ per: 'packing-run', critical: false, limit: { leastTested: 5, mostFailed: 0 } },
} as const;

/** The kitchen with another recipe of the same stew, whose batches are opened with a plan of these points. */
export async function withPlan(kitchen: Kitchen, points: readonly object[]): Promise<Kitchen> {
  const { service, world } = kitchen;
  const recipe = await kitchen.post('admin', '/v1/recipes', {
    itemId: world.beefStewId,
    code: randomUUID().slice(0, 18),
    name: 'Beef stew with a plan',
    expectedYieldPpm: 850_000,
    steps: ['prepare', 'cook', 'chill', 'pack'],
    killStep: true,
    inputs: [{ itemId: world.beefShinId, quantity: 40_000, unit: 'g' }],
  });
  const plan = { release: 'by-hand', twoPeople: false, points };
  await kitchen.post('quality', `/v1/recipes/${recipe.recipeId}/process-plans`, plan);
  return kitchenOf(service, { ...world, recipeId: recipe.recipeId });
}
