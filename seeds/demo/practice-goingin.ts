/** Going live and goods in as they happen: a pack on ward 3 that has lost its label. */
import { id, type Story } from './story.ts';
import { receiverOf } from './vans.ts';

export function practiceOfGoingIn(story: Story): void {
  story.happens(13, '11:20', (foundAt) =>
    story.door.post(receiverOf('w3'), '/v1/unidentified-packs', 'unidentified-pack/w3', {
      siteId: id('site/w3'),
      placeId: id('place/w3-chiller'),
      description: 'Clear pouch with brown sauce, label washed off',
      quantity: 1,
      foundAt,
    }),
  );
}
