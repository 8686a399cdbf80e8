/** The demo's van runs: yesterday's round of the wards with its times, today's with the van on the road. */
import { as } from './door.ts';
import { ck, id, type Story } from './story.ts';
import { receiverOf } from './vans.ts';

export function practiceVans(story: Story): void {
  const run = (name: string, day: number, time: string, dispatches: readonly string[]) =>
    story.happens(day, time, (plannedFor) =>
      story.door.post(as('kitchen', 'site/ck'), '/v1/van-runs', name, {
        siteId: ck(),
        vehicle: 'Van 2',
        driverId: id('person/driver'),
        plannedFor,
        dispatchIds: dispatches.map((dispatch) => id(`dispatch/${dispatch}`)),
      }),
    );
  const times = (name: string, who: Parameters<Story['door']['post']>[0], day: number, dispatch: string, at: object) =>
    story.happens(day, '08:10', () =>
      story.door.post(who, `/v1/van-runs/${id('van-run/wards-12')}/drop-times`, name, {
        dispatchId: id(`dispatch/${dispatch}`),
        ...at,
      }),
    );
  const at = (time: string) => story.calendar.at(12, time);
  run('van-run/wards-12', 12, '06:05', ['w3-12', 'w9-12']);
  times('drop-times/w3-12', as('driver'), 12, 'w3-12', { arrivedAt: at('07:36'), doorAt: at('07:40') });
  times('drop-times/w3-12-away', receiverOf('w3'), 12, 'w3-12', { putAwayAt: at('07:52') });
  times('drop-times/w9-12', as('driver'), 12, 'w9-12', { arrivedAt: at('07:45'), doorAt: at('07:46') });
  run('van-run/wards', 13, '09:50', ['w3-on-the-road']);
}
