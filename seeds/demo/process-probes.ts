/**
 * The core probe through the fortnight: back from the laboratory at its beginning, in ice once, and three degrees out in boiling water
 * on the last day but one; a new battery put it right.
 */
import { LAST_DAY } from './calendar.ts';
import { as } from './door.ts';
import { id, type Story } from './story.ts';

const kitchen = as('kitchen', 'site/ck');
/** Metres above the sea; an invented place. */
const HEIGHT_M = 60;

export function probeCare(story: Story): void {
  const path = `/v1/equipment/${id('equipment/probe-1')}/calibrations`;
  const calibrated = (name: string, day: number, time: string, body: object) =>
    story.happens(day, time, (occurredAt) =>
      story.door.post(kitchen, path, `calibration/${name}`, { occurredAt, ...body }),
    );
  const boiling = (measuredC: number) => ({ method: 'boiling-point', altitudeM: HEIGHT_M, measuredC });
  calibrated('probe-1-laboratory', 0, '05:40', {
    method: 'laboratory',
    referenceC: 75,
    measuredC: 75.1,
    note: 'Certificate in the office',
  });
  calibrated('probe-1-ice', 4, '06:05', { method: 'ice-point', measuredC: 0.2 });
  calibrated('probe-1', LAST_DAY - 1, '07:10', {
    ...boiling(96.8),
    correctiveAction: 'Taken out of use; the battery was changed',
  });
  calibrated('probe-1-again', LAST_DAY - 1, '07:35', boiling(99.6));
}
