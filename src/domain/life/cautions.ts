/** What must be known before a what-if is believed, in words for the kitchen and the quality lead. Each has a code for programs. */
import type { Piece } from './exposure.ts';
import { TOXIN_LOWEST_C } from './toxin-time.ts';
import type { Caution, LifeModel, WhatIf, WhatIfAnswer } from './what-if-shapes.ts';

type Results = Omit<WhatIfAnswer, 'cautions' | 'sources'>;
/** Codes in the order in which they are said; null leaves one out. */
type Found = readonly (readonly [code: string, sentence: string | null])[];

/** Koutsoumanis 2001 (read): where the square-root relation was tried on chilled fish. */
const TRIED_C = { from: 0, to: 15 };
/** EC guidance table (read): upper growth limit, and growth seen from -1.5 °C. */
const LISTERIA_GROWS_UP_TO_C = 45;
/** EN 12830:1999, second-hand: the longest interval in transport. */
const LONGEST_INTERVAL_H = 1;
/** USP 29 <1160> (read): means over equal times. */
const LEAST_MEANS = 12;

/** @param sent as it came, @param results what it led to */
export function cautionsOf(sent: WhatIf, results: Results, pieces: readonly Piece[]): Caution[] {
  const found: Found = [
    [
      'decision-support',
      'This is a calculation for trained people to judge, not a decision. The food-safety plan and local law come first; the quality ' +
        'lead decides.',
    ],
    [
      'lengthens-nothing',
      'It changes no date and no hold. The printed date and every other limit stand; the earliest one counts.',
    ],
    ...aboutModel(sent.model, results, pieces),
    ...aboutLife(sent, results),
    ...aboutReadings(results, pieces),
    ['toxin-advisory', aboutToxin(results)],
  ];
  return found.flatMap(([code, sentence]) => (sentence === null ? [] : [{ code, sentence }]));
}

function aboutModel(model: LifeModel, results: Results, pieces: readonly Piece[]): Found {
  const all = [...pieces.flatMap(({ fromC, toC }) => [fromC, toC]), results.thenTemperatureC ?? pieces[0]?.fromC ?? 0];
  const coldest = Math.min(...all);
  const warmest = Math.max(...all);
  const unchecked: Found[number] = [
    'model-not-checked',
    "The model's numbers came with the request. Whether they fit this food is for a named person to validate.",
  ];
  switch (model.kind) {
    case 'square-root':
      return [
        unchecked,
        [
          'outside-tried-range',
          coldest >= TRIED_C.from && warmest <= TRIED_C.to
            ? null
            : `Some of it lies outside ${TRIED_C.from} to ${TRIED_C.to} °C, where the relation was tried on chilled fish. In the cold food ` +
              'freezes, which this model does not know; in the warm other microbes take over.',
        ],
        ['below-minimum', belowMinimum(coldest, model.minTemperatureC)],
      ];
    case 'q10':
      return [
        unchecked,
        ['q10-is-local', 'A Q10 holds near the temperatures that it was measured at, not far from them.'],
      ];
    case 'arrhenius':
      return [
        unchecked,
        [
          'poor-fit-for-growth',
          'Arrhenius describes chemical change. It fits the growth of microbes badly (Ratkowsky et al. 1982): do not judge spoilage or ' +
            'safety by it.',
        ],
      ];
    case 'listeria-growth':
      return [
        unchecked,
        [
          'minimum-belongs-to-the-product',
          'The minimum temperature of growth differs between foods: -1.18 °C follows from a US assessment, about -3.7 °C from EFSA data on ' +
            'sweetcorn. A colder minimum means more growth below the reference temperature than is said here.',
        ],
        [
          'no-lag-no-ceiling',
          'Growth is counted from the first hour and without a level to stop at. Only a durability study or a challenge test shows what ' +
            'the food does; from 1 July 2026 EU law asks for one before 100 cfu/g may be relied on (Regulation (EU) 2024/2895).',
        ],
        ['below-minimum', belowMinimum(coldest, model.minTemperatureC ?? coldest)],
        [
          'no-kill-counted',
          warmest > LISTERIA_GROWS_UP_TO_C
            ? `Above ${LISTERIA_GROWS_UP_TO_C} °C Listeria no longer grows. It is counted as growing all the same, and no kill is counted.`
            : null,
        ],
      ];
    case 'mean-kinetic-temperature':
      return [
        [
          'not-for-microbes',
          'A mean kinetic temperature is an average for chemical stability. It says nothing about microbes and gives no life; a long time ' +
            'hides a short excursion.',
        ],
        [
          'few-temperatures',
          pieces.length < LEAST_MEANS ? `USP 29 <1160> takes the mean of at least ${LEAST_MEANS} equal times.` : null,
        ],
      ];
  }
}

function belowMinimum(coldestC: number, minTemperatureC: number): string | null {
  if (coldestC > minTemperatureC) return null;
  return (
    `At and below ${minTemperatureC} °C the model counts no growth. That is a limit of the model, not a promise: Listeria has been seen ` +
    'to grow from -1.5 °C (EC guidance).'
  );
}

function aboutLife(sent: WhatIf, results: Results): Found {
  const { usedFraction, remainingH, thenTemperatureC, reference, exposureH, equivalentAgeH } = results;
  const counted = usedFraction !== null;
  const isMean = sent.model.kind === 'mean-kinetic-temperature';
  const unused = isMean && (sent.reference !== undefined || sent.thenTemperatureC !== undefined);
  const kinder =
    counted &&
    reference !== null &&
    ((thenTemperatureC !== null && thenTemperatureC < reference.temperatureC) || (equivalentAgeH ?? 0) < exposureH);
  return [
    [
      'not-used',
      unused ? 'reference and thenTemperatureC were sent, and play no part in a mean kinetic temperature.' : null,
    ],
    [
      'no-life-sent',
      !counted && !isMean
        ? 'Only growth is said: neither a life nor an allowed increase was sent to take it from.'
        : null,
    ],
    [
      'no-further-temperature',
      counted && thenTemperatureC === null
        ? 'What is left depends on the temperature from here on. Give thenTemperatureC for remainingH.'
        : null,
    ],
    [
      'life-used',
      counted && usedFraction >= 1
        ? 'By this model the life is used. Keep the food from use until the quality lead has decided.'
        : null,
    ],
    [
      'no-end-in-model',
      counted && thenTemperatureC !== null && remainingH === null
        ? 'At that temperature the model gives more than ten years, which says nothing about food; no hours are given.'
        : null,
    ],
    [
      'colder-than-reference',
      kinder
        ? 'Some of it is colder than the reference temperature, so the model takes less than the clock. That is a number only: it is no ' +
          'reason for a later date.'
        : null,
    ],
  ];
}

function aboutReadings({ betweenReadings }: Results, pieces: readonly Piece[]): Found {
  if (betweenReadings === null) return [];
  const gaps = pieces.filter(({ durationH }) => durationH > LONGEST_INTERVAL_H);
  const longestH = Math.max(...gaps.map(({ durationH }) => durationH));
  const said = {
    'warmer-end': 'Between two readings the warmer one is taken to hold all the time.',
    line: 'Between two readings a straight line is taken. It may have been warmer; warmer-end is the cautious rule.',
    step: 'Between two readings the earlier one is taken to hold. It may have been warmer; warmer-end is the cautious rule.',
  };
  return [
    ['between-readings', `${said[betweenReadings]} Time after the last reading is not counted.`],
    [
      'gap-between-readings',
      gaps.length > 0
        ? `${gaps.length === 1 ? 'One gap' : `${gaps.length} gaps`} between readings of more than an hour, the longest ` +
          `${Number(longestH.toFixed(1))} h. Nobody knows how warm it was in between.`
        : null,
    ],
  ];
}

function aboutToxin({ toxinAdvisory, remainingH }: Results): string | null {
  if (toxinAdvisory === null) return null;
  const { usedFraction, remainingH: leftH } = toxinAdvisory;
  const sooner = leftH !== null && remainingH !== null && leftH < remainingH;
  return (
    `Vacuum-packed food at ${TOXIN_LOWEST_C} °C or warmer: by an advisory line FROM MEMORY, ` +
    (usedFraction >= 1
      ? 'psychrotrophic Clostridium botulinum could have made toxin in this time if nothing else controls it. '
      : `${Math.ceil(usedFraction * 100)} % of the time to possible toxin of psychrotrophic Clostridium botulinum is used` +
        (leftH === null
          ? '. '
          : `, with ${Math.floor(leftH)} h left at the further temperature${sooner ? ', less than the model above says' : ''}. `)) +
    'Without a controlling factor on record the UK limit is ten days at 3 to 8 °C (FSA 2008). The line warns; it decides nothing.'
  );
}
