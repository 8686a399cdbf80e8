/** Checks of a batch as the kitchen takes them: heat and chilling of each load. Core and seals come with the packing run. */
import { as } from './door.ts';
import { ck, clock, id, type Story } from './story.ts';

const kitchen = as('kitchen', 'site/ck');

interface Point {
  readonly minute: number;
  readonly temperatureC: number;
}

/** How the checks of one batch went; everything was as it should be where nothing is said. */
export interface Checked {
  /** nobody says that it may leave: the checks do */
  readonly byItself?: boolean;
  /** what the quality lead lets go without a pass, and why */
  readonly accept?: readonly { readonly controlPoint: string; readonly reason: string }[];
  /** control points that nobody looked at */
  readonly without?: readonly string[];
}

interface CheckedBatch {
  readonly name: string;
  readonly day: number;
  readonly start: string;
  readonly loads: readonly string[];
  readonly checked: Checked;
}

const STEP_MINUTES = 2;
const COOK_MINUTES = 78;
const CHILL_MINUTES = 58;
/** Kettle: from cold towards 80 °C. Blast chiller: from 76 °C towards half a degree. */
const KETTLE = { fromC: 12, toC: 80, minutes: 26 } as const;
const BLAST = { fromC: 76, toC: 0.5 } as const;
const CHILLED_C = 3;

/** Towards a temperature, ever more slowly, as heat goes in and out of food; a reading every two minutes, to a tenth of a degree. */
function towards(fromC: number, toC: number, slowness: number, minutes: number): Point[] {
  return Array.from({ length: Math.floor(minutes / STEP_MINUTES) + 1 }, (_, at) => ({
    minute: at * STEP_MINUTES,
    temperatureC: Math.round((toC + (fromC - toC) * Math.exp((-at * STEP_MINUTES) / slowness)) * 10) / 10,
  }));
}

export const heating = (): Point[] => towards(KETTLE.fromC, KETTLE.toC, KETTLE.minutes, COOK_MINUTES);

/** At 3 °C after 58 minutes, and a little on. */
const chilling = (): Point[] =>
  towards(
    BLAST.fromC,
    BLAST.toC,
    CHILL_MINUTES / Math.log((BLAST.fromC - BLAST.toC) / (CHILLED_C - BLAST.toC)),
    CHILL_MINUTES + 2 * STEP_MINUTES,
  );

/** A door that did not close: the air stays mild, and so does the stew. */
export const chillingBadly = (): Point[] => towards(BLAST.fromC, 6, 44, 104);

/** A check at the kitchen, by whoever is at the kettle unless it says so. */
export function takeCheck(story: Story, name: string, fields: object): Promise<unknown> {
  const who = { siteId: ck(), doneBy: id('person/cook-2') };
  return story.door.post(kitchen, '/v1/process-checks', name, { ...who, ...fields });
}

/** Times as in kitchen.ts: out of the kettle 140 minutes after the start, ten minutes between loads, packed from 210 to 250. */
export function checkBatch(story: Story, batch: CheckedBatch): void {
  const { name, day, start, loads, checked } = batch;
  const at = (minutes: number) => clock(start, minutes);
  const nameOf = (code: string) => `check/${name}-${code}`;
  const wanted = (point: string) => !(checked.without ?? []).includes(point);
  const instrumentId = id('equipment/probe-1');
  for (const [no, load] of loads.entries()) {
    const about = { about: { kind: 'lot', id: id(load) } };
    if (wanted('cook')) {
      story.happens(day, at(182), () =>
        takeCheck(story, nameOf(`cook-${no + 1}`), {
          ...about,
          instrumentId,
          stage: 'cook',
          kind: 'lethality',
          controlPoint: 'cook',
          series: heating(),
          occurredAt: story.calendar.at(day, at(139 + 10 * no)),
          machineId: id(no % 2 === 0 ? 'equipment/kettle-1' : 'equipment/kettle-2'),
        }),
      );
    }
    if (wanted('chill')) {
      story.happens(day, at(150 + 10 * no + CHILL_MINUTES), (occurredAt) =>
        takeCheck(story, nameOf(`chill-${no + 1}`), {
          ...about,
          instrumentId,
          stage: 'chill',
          kind: 'cooling',
          controlPoint: 'chill',
          series: chilling(),
          occurredAt,
          machineId: id('equipment/blast-chiller-1'),
        }),
      );
    }
  }
}
