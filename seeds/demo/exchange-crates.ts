/**
 * Crates of the demo: the kitchen's numbers, a roll cage with two crates on the road to ward 3, spare ones, and boxes of which the hotel
 * has kept most. The company prefix is invented, in GS1's range for examples.
 */
import { crateIdOf } from '../../src/features/distribution/index.ts';
import { as, type Door } from './door.ts';
import { ck, id, type Story } from './story.ts';
import { receiverOf } from './vans.ts';

const kitchen = as('kitchen', 'site/ck');

/** What is there before the first day. */
export async function addCrateKinds(door: Door): Promise<void> {
  const range = { companyPrefix: '9520123', extensionDigit: 0 };
  await door.post(as('operations'), '/v1/sscc-ranges', 'sscc-range/first', range);
  const grey = { code: 'GREY-64', name: 'Grey crate, 600 × 400' };
  await door.post(as('operations'), '/v1/box-types', 'box-type/grey', grey);
  await door.post(as('operations'), '/v1/box-types', 'box-type/cage', { code: 'CAGE', name: 'Roll cage' });
}

/** The codes of the two crates in the cage to ward 3, in turn for the lines of its dispatch. */
export async function cageCodes(door: Door): Promise<readonly string[]> {
  const crates = await Promise.all(
    [1, 2].map((position) => door.find(kitchen, `/v1/crates/${crateIdOf(id('crates/w3-13'), position)}`)),
  );
  return crates.flatMap((crate) => crate?.code ?? []);
}

export function crates(story: Story): void {
  const { door } = story;
  const make = (name: string, fields: object) =>
    door.post(kitchen, '/v1/crates', name, { siteId: ck(), count: 1, ...fields });
  const cage = { kind: 'roll-cage', boxTypeId: id('box-type/cage') };
  const grey = { boxTypeId: id('box-type/grey') };
  story.happens(13, '09:20', async (occurredAt) => {
    await make('crates/w3-13', { ...grey, count: 2 });
    await make('crates/w3-cage', cage);
    await make('crates/spare', grey);
    await make('crates/spare-cage', cage);
    for (const position of [1, 2]) {
      const path = `/v1/crates/${crateIdOf(id('crates/w3-13'), position)}/placements`;
      const intoCrateId = crateIdOf(id('crates/w3-cage'), 1);
      await door.post(kitchen, path, `crate-placement/w3-13-${position}`, { intoCrateId, occurredAt });
    }
  });
  const count = (name: string, site: 'ck' | 'w3' | 'hot', day: number, time: string, quantity: number) =>
    story.happens(day, time, (occurredAt) =>
      door.post(site === 'ck' ? kitchen : receiverOf(site), '/v1/box-counts', `box-count/${name}`, {
        ...{ siteId: id(`site/${site}`), boxTypeId: id('box-type/grey'), quantity, occurredAt },
      }),
    );
  const move = (day: number, time: string, from: 'ck' | 'w3' | 'hot', to: 'ck' | 'w3' | 'hot', quantity: number) =>
    story.happens(day, time, (occurredAt) =>
      door.post(as('driver'), '/v1/box-movements', `box-movement/${from}-${to}-${day}`, {
        ...{ boxTypeId: id('box-type/grey'), quantity, occurredAt },
        ...{ fromSiteId: id(`site/${from}`), toSiteId: id(`site/${to}`) },
      }),
    );
  count('ck-first', 'ck', 0, '16:10', 80);
  move(2, '07:50', 'ck', 'w3', 6);
  move(3, '07:55', 'w3', 'ck', 6);
  move(5, '08:20', 'ck', 'hot', 9);
  move(9, '08:20', 'ck', 'hot', 9);
  move(10, '08:25', 'hot', 'ck', 2);
  // Sixteen should be there. Nobody at the hotel knows where the others are.
  count('hot', 'hot', 12, '15:40', 11);
  count('ck', 'ck', 12, '16:20', 64);
}
