/** From the second week on, stew and soup are cooked by a process plan: what is checked, and what that must show. */
import { as } from './door.ts';
import { id, type Story } from './story.ts';

const quality = as('quality');

const cook = {
  code: 'cook',
  label: 'Cooked through',
  stage: 'cook',
  kind: 'lethality',
  limit: 'default',
  per: 'load',
  requiredFor: 'release',
  critical: true,
  repeatable: true,
};
/** The z of the one and the ninety minutes of the other are from memory in the service's data: the quality lead confirms them. */
const chill = { ...cook, code: 'chill', label: 'Chilled in time', stage: 'chill', kind: 'cooling', repeatable: false };
const core = {
  ...cook,
  code: 'core',
  label: 'Cold before the vacuum',
  stage: 'pack',
  kind: 'core-temperature',
  per: 'packing-run',
  critical: false,
};
const seal = {
  ...core,
  code: 'seal',
  label: 'Seals hold',
  kind: 'seal-test',
  limit: { leastTested: 2, mostFailed: 0 },
  source: 'Our own practice: two pouches of each run are pulled and pressed',
  critical: true,
  repeatable: false,
};

const PLANS_FROM_DAY = 8;

export function processPlans(story: Story): void {
  const post = (dish: string, plan: object) =>
    story.door.post(quality, `/v1/recipes/${id(`recipe/${dish}`)}/process-plans`, `process-plan/${dish}`, plan);
  story.happens(PLANS_FROM_DAY, '05:20', () =>
    post('beef-stew', {
      points: [{ ...cook, confirmed: true }, { ...chill, confirmed: true }, core, seal],
      release: 'automatic',
      twoPeople: false,
      note: 'First plan for the stew. I have checked 70 °C with z 7.5 and the ninety minutes against our own copies.',
    }),
  );
  // Nobody has confirmed those numbers for the soup: it never goes by itself.
  story.happens(12, '05:20', () =>
    post('tomato-soup', {
      points: [cook, chill, { ...core, requiredFor: 'packing', per: 'load', stage: 'chill' }, seal],
      release: 'by-hand',
      twoPeople: true,
      note: 'The soup goes to the boarding house: two people see it',
    }),
  );
}
