/** What it costs the group when there is too little: a rule for everything, and ward 3's own figure for stew. */
import { as } from './door.ts';
import { id, type Story } from './story.ts';

export function runOutCosts(story: Story): void {
  story.happens(12, '16:40', async () => {
    await story.door.post(as('finance'), '/v1/run-out-costs', 'run-out-cost/all', {
      ratioPercent: 250,
      note: 'A dish that is out is replaced in a hurry by one that costs more; agreed with the kitchens',
    });
    await story.door.post(as('finance'), '/v1/run-out-costs', 'run-out-cost/w3-stew', {
      siteId: id('site/w3'),
      itemId: id('item/beef-stew-pack'),
      costMinor: 450,
      note: 'A meal from the canteen, and the walk',
    });
  });
}
