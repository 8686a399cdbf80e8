/** What must be said beside an answer on which somebody's health depends. */
import type { ComputedLot } from '../limits/compute.ts';
import type { PartInForce } from './parts.ts';

interface Caution {
  readonly code: string;
  readonly sentence: string;
}

export function cautionsOf({ shortened, lot }: ComputedLot, parts: readonly PartInForce[]): Caution[] {
  const out: Caution[] = [
    {
      code: 'who-decides',
      sentence:
        'Decision support for trained staff. The quality lead decides; the food-safety plan, local law and the printed date come first. Nothing is ' +
        'ever lengthened by itself.',
    },
  ];
  const say = (applies: boolean, code: string, sentence: string): void =>
    void (applies && out.push({ code, sentence }));
  const limits = parts.flatMap(({ part }) => part.limits);
  say(
    limits.some(({ basis, drives }) => basis === 'from-memory' && !drives),
    'from-memory',
    'Limits from memory are told and drive nothing until a named person has confirmed them for the site.',
  );
  say(
    parts.some(({ part }) => part.exposures.some(({ unmonitoredMs }) => unmonitoredMs > 0)),
    'unmonitored',
    "Time in which nobody looked is counted at the place's upper limit or the last value seen, whichever is warmer.",
  );
  say(
    parts.some(({ part }) => part.presumed),
    'presumed',
    'Some of it is only presumed to be where it is booked: what happened there condemns nothing until somebody has seen it.',
  );
  say(
    parts.some(({ part }) => part.ways.length > 1),
    'several-ways',
    'Food of different histories lies together and cannot be told apart: each limit takes the worse of them.',
  );
  say(
    shortened,
    'many-ways',
    'It was moved so often in small amounts that not every way is looked at; the latest are.',
  );
  say(
    lot.anchors.frozenAt !== undefined,
    'frozen',
    'Frozen: the clocks of chilled food stand still. Freezing does not make unsafe food safe.',
  );
  return out;
}
