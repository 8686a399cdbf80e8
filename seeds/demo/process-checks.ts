/**
 * The fridge round of the central kitchen by hand, each morning: once too warm, and once mistyped. And the chilling of one load as the blast
 * chiller recorded it.
 */
import { LAST_DAY } from './calendar.ts';
import { as } from './door.ts';
import { ck, id, type Story } from './story.ts';

const kitchen = as('kitchen', 'site/ck');
const WARM_DAY = 9;
/** chilled at the end of cooking, told when the packs were sealed */
const CHILLED = { day: 12, at: '11:20', lot: 'lot/chicken-d-load-1' };
const ROUND_AT = '06:05';

export function processChecks(story: Story): void {
  const check = (name: string, fields: object) =>
    story.door.post(kitchen, '/v1/process-checks', name, { siteId: ck(), ...fields });
  for (let day = 0; day <= LAST_DAY; day += 1) {
    const typo = day === LAST_DAY;
    const warm = day === WARM_DAY;
    const temperatureC = typo ? 41 : warm ? 9.2 : 2.6 + (day % 4) * 0.4;
    story.happens(day, ROUND_AT, (occurredAt) =>
      check(typo ? 'check/fridge-typo' : warm ? 'check/fridge-warm' : `check/fridge-${day}`, {
        stage: 'storage',
        kind: 'temperature',
        about: { kind: 'place', id: id('place/ck-chiller') },
        occurredAt,
        instrumentId: id('equipment/probe-1'),
        temperatureC,
        ...(warm && { correctiveAction: 'Door stood ajar after the delivery; shut, and read again at 07:00: 4.4 °C' }),
      }),
    );
  }
  story.happens(CHILLED.day, CHILLED.at, (occurredAt) =>
    check('check/chill-series', {
      stage: 'chill',
      kind: 'cooling',
      about: { kind: 'lot', id: id(CHILLED.lot) },
      occurredAt,
      instrumentId: id('equipment/probe-1'),
      machineId: id('equipment/blast-chiller-1'),
      series: chilling(),
    }),
  );
}

/** From 78 °C towards -4 °C air, a reading every three minutes; numbers of our own. */
function chilling(): { minute: number; temperatureC: number }[] {
  return Array.from({ length: 29 }, (_, step) => {
    const minute = step * 3;
    return { minute, temperatureC: Math.round((-4 + 82 * Math.exp(-minute / 31)) * 10) / 10 };
  });
}
