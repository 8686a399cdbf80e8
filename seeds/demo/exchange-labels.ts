/**
 * Labels of the demo: a run of beef stew was labelled as it was packed; one label got wet, and two people put
 * another in its place. The hotel has its labels on sheets.
 */
import { as } from './door.ts';
import { id, type Story } from './story.ts';

const kitchen = as('kitchen', 'site/ck');

export function labels(story: Story): void {
  const { door } = story;
  const print = (name: string, fields: object) => door.post(kitchen, '/v1/label-prints', `label-print/${name}`, fields);
  const stew = { kind: 'lot', id: id('lot/beef-stew-packs-1') };
  story.happens(11, '12:25', () => print('stew', { about: stew }));
  story.happens(11, '12:40', () =>
    print('stew-wet', {
      about: stew,
      serials: '6',
      reason: 'damaged',
      note: 'Wet through before it was on',
      sister: { serial: '7', secondPersonId: id('person/cook-2') },
    }),
  );
  story.happens(12, '15:00', () =>
    door.post(as('quality'), `/v1/sites/${id('site/hot')}/label-settings`, 'label-settings/hot', {
      language: 'en',
      layout: 'a4-2x4',
      symbol: 'gs1qrcode',
    }),
  );
}
