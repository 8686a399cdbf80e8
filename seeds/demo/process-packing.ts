/** Packing programmes of the demo, why packs were rejected, and what showed of them afterwards. */
import suggestions from '../../shared/packing-programmes.json' with { type: 'json' };
import { as, type Door } from './door.ts';
import { id, type Story } from './story.ts';

/** example name, code, name, kind of food that the settings are taken from */
const PROGRAMMES = [
  ['moist', 'MOIST', 'Moist dishes, soft vacuum', 'moist-dish'],
  ['soups', 'SOUPS', 'Soups, soft vacuum', 'liquid'],
  ['sauces', 'SAUCES', 'Sauces, soft vacuum', 'sauce'],
  ['grains', 'GRAINS', 'Grains, full vacuum', 'porous-or-bulky'],
] as const;

export async function addProgrammes(door: Door): Promise<void> {
  for (const [key, code, name, foodType] of PROGRAMMES) {
    const suggested = suggestions.programmes.find((one) => one.foodType === foodType);
    if (!suggested) throw new Error(`nothing is suggested for ${foodType}`);
    const programme = { ...suggested, code, name, basis: 'common-practice' };
    await door.post(as('quality'), '/v1/packing-programmes', `packing-programme/${key}`, programme);
  }
}

export function programmeId(name: string): string {
  const programme = PROGRAMMES.find((one) => one[2] === name);
  if (!programme) throw new Error(`no programme is called ${name}`);
  return id(`packing-programme/${programme[0]}`);
}

/** A seal bar whose tape was worn, until somebody looked. */
const WORN: Readonly<Record<string, number>> = { 'stew-d': 11 };

/** What a run rejected and why; where nobody wrote down why, only how many. */
export function rejectsOf(run: string, packs: number): object {
  const worn = WORN[run];
  if (worn !== undefined) {
    const rejects = [
      { reason: 'leak', packs: worn - 2 },
      { reason: 'crease', packs: 2 },
    ];
    return { rejects };
  }
  if (packs === 0) return { packsRejected: 0 };
  const reason = run.startsWith('rice') ? 'crease' : 'dirty-seal-area';
  return run.endsWith('a') ? { packsRejected: packs } : { rejects: [{ reason, packs }] };
}

/** Two pouches of stew had lost their vacuum at the ward; one more was noticed in the kitchen and packed anew. */
export function packFaults(story: Story): void {
  const say = (day: number, time: string, site: string, name: string, fields: object) =>
    story.happens(day, time, (occurredAt) =>
      story.door.post(as('quality'), '/v1/pack-faults', `pack-fault/${name}`, {
        siteId: id(`site/${site}`),
        occurredAt,
        ...fields,
      }),
    );
  const stew = { lotId: id('lot/stew-b-packs-1') };
  say(6, '10:20', 'w3', 'first', { kind: 'leaker', ...stew, serial: '4', reason: 'leak' });
  say(6, '10:25', 'w3', 'second', { kind: 'leaker', ...stew, serial: '9', note: 'Soft, no hole to be seen' });
  say(8, '15:10', 'ck', 'anew', { kind: 're-bagged', lotId: id('lot/stew-d-packs-1'), serial: '40', reason: 'crease' });
}
