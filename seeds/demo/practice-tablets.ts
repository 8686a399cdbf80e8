/** Who signs in on tablets, and who stands in for the quality lead while she is away. */
import { exampleId } from '../../src/platform/ids.ts';
import { LAST_DAY, type Calendar } from './calendar.ts';
import { as, type Door } from './door.ts';

/** example name, path below the person, what is set */
const MEANS = [
  ['receiver', 'pin', { pin: '2719' }],
  ['quality', 'badge', { badge: '04C1E2937A5B80' }],
] as const;

/** `calendar`: the deputy's days are the last two and the one after. */
export async function addTabletPractice(door: Door, calendar: Calendar): Promise<void> {
  await Promise.all(
    MEANS.map(([key, means, fields]) =>
      door.post(as('admin'), `/v1/people/${exampleId(`person/${key}`)}/${means}`, `${means}/${key}`, fields),
    ),
  );
  await door.post(as('quality'), '/v1/deputies', 'deputy/weekend', {
    personId: exampleId('person/packer'),
    role: 'quality',
    siteId: exampleId('site/ck'),
    from: calendar.at(LAST_DAY - 1, '06:00'),
    to: calendar.at(LAST_DAY + 1, '06:00'),
    reason: 'The quality lead is at a course; Tilda has the training',
  });
}
