/** The packing machine is cleaned down after each run; the meals of the fortnight hold different allergens. */
import { LAST_DAY } from './calendar.ts';
import { as } from './door.ts';
import { id, type Story } from './story.ts';

/** When the runs of the kitchen's batches end (kitchen.ts: 250 minutes after a start). */
const RUNS_END = ['11:00', '11:40', '12:20', '12:50'];

export function cleanDowns(story: Story): void {
  // The last day breaks off before lunch.
  for (let day = 0; day < LAST_DAY; day += 1) {
    for (const time of RUNS_END) {
      story.happens(day, time, (occurredAt) =>
        story.door.post(
          as('kitchen', 'site/ck'),
          `/v1/equipment/${id('equipment/packer-1')}/clean-downs`,
          `clean-down/${day}-${time}`,
          { occurredAt, kind: 'full' },
        ),
      );
    }
  }
}
