/** On the evening before the demo's last day the hotel says that it keeps its chiller colder than the law asks. */
import { as } from './door.ts';
import { id, type Story } from './story.ts';

export function hotelPolicy(story: Story): void {
  story.happens(12, '17:30', () =>
    story.door.post(as('quality'), `/v1/sites/${id('site/hot')}/process-policy`, 'process-policy/hot', {
      rawOnPacker: 'refuse',
      allergenChangeover: 'finding',
      twoPeople: false,
      limits: [
        {
          stage: 'storage',
          kind: 'temperature',
          atMost: 5,
          source: "The hotel's food-safety plan: fridge round at 5 °C",
        },
      ],
      confirmedBy: 'Nora Pell',
    }),
  );
}
