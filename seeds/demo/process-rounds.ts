/** Checks beside batches, on one day: goods in, time out of chill, cleaning, and a ward from the van to the plate. */
import { takeCheck } from './process-batch-checks.ts';
import { id, type Story } from './story.ts';
import { receiverOf } from './vans.ts';

export function processRounds(story: Story): void {
  ward(story);
  const about = (kind: string, name: string) => ({ about: { kind, id: id(name) } });
  story.happens(12, '06:40', (occurredAt) =>
    takeCheck(story, 'check/beef-in', {
      ...about('goods-receipt', 'goods-receipt/brook-12'),
      stage: 'goods-in',
      kind: 'temperature',
      temperatureC: 2.8,
      note: 'Between two bags in the middle of the box',
      instrumentId: id('equipment/probe-1'),
      occurredAt,
    }),
  );
  story.happens(12, '12:10', (occurredAt) =>
    takeCheck(story, 'check/awaiting-time', {
      ...about('packing-run', 'packing-run/awaiting'),
      stage: 'pack',
      kind: 'elapsed-time',
      fromAt: story.calendar.at(12, '10:58'),
      toAt: story.calendar.at(12, '11:21'),
      note: 'From the cold room to the last pouch of the first trolley',
      doneBy: id('person/packer'),
      occurredAt,
    }),
  );
  story.happens(12, '14:20', (occurredAt) =>
    takeCheck(story, 'check/packer-clean', {
      ...about('equipment', 'equipment/packer-1'),
      stage: 'cleaning',
      kind: 'yes-no',
      yes: true,
      note: 'Swab of the seal bar and the inserts: clean',
      occurredAt,
    }),
  );
}

/** Ward 3 looks when the van comes, when the stew is hot, and while it is handed out. */
function ward(story: Story): void {
  const say = (time: string, name: string, fields: object) =>
    story.happens(12, time, (occurredAt) =>
      story.door.post(receiverOf('w3'), '/v1/process-checks', name, { siteId: id('site/w3'), occurredAt, ...fields }),
    );
  const stew = { about: { kind: 'lot', id: id('lot/beef-stew-packs-1') } };
  say('08:20', 'check/w3-receipt', {
    about: { kind: 'dispatch', id: id('dispatch/w3-12') },
    stage: 'receipt',
    kind: 'temperature',
    temperatureC: 4.1,
    note: 'Between two packs in the lowest crate',
  });
  say('12:05', 'check/w3-hot', { ...stew, stage: 'regeneration', kind: 'core-temperature', temperatureC: 78.4 });
  say('12:40', 'check/w3-held', { ...stew, stage: 'hot-holding', kind: 'core-temperature', temperatureC: 66.2 });
}
