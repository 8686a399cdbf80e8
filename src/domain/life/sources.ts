/**
 * Where the numbers of the models come from, and how sure that is. `read`: seen in the source's text. `second-hand`: seen in somebody
 * else's copy. `recomputed`: follows from numbers that were read. `from-memory`: a lead, not evidence. `sent`: came with the request.
 */
type Basis = 'read' | 'second-hand' | 'recomputed' | 'from-memory' | 'sent';

export interface Source {
  /** what rests on it */
  readonly of: string;
  readonly source: string;
  readonly basis: Basis;
}

const sent = (of: string): Source => ({ of, source: 'The request', basis: 'sent' });

const SQUARE_ROOT: Source = {
  of: 'The square-root relation',
  source: 'Ratkowsky et al. 1982, J. Bacteriol. 149:1-5',
  basis: 'read',
};

export const SOURCES = {
  'square-root': [
    sent('The minimum temperature, and the life at the reference temperature'),
    SQUARE_ROOT,
    {
      of: 'Where the relation was tried: fish at 0 to 15 °C, mean error of a shelf life 5.8 %',
      source: 'Koutsoumanis 2001, Appl. Environ. Microbiol. 67:1821',
      basis: 'read',
    },
  ],
  q10: [
    sent('The Q10, and the life at the reference temperature'),
    { of: 'The Q10 relation', source: 'A textbook passage', basis: 'second-hand' },
  ],
  arrhenius: [
    sent('The activation energy, and the life at the reference temperature'),
    { of: 'The gas constant', source: 'USP 29 <1160>', basis: 'read' },
    {
      of: 'That Arrhenius fits the growth of microbes badly',
      source: 'Ratkowsky et al. 1982, J. Bacteriol. 149:1-5',
      basis: 'read',
    },
  ],
  'listeria-growth': [
    sent('The life, or the growth at 5 °C and the increase allowed'),
    SQUARE_ROOT,
    {
      of: 'Carrying growth at 5 °C to other temperatures',
      source: 'FDA/FSIS/CDC 2003, Quantitative Assessment of Listeria monocytogenes, appendix 8 table 1',
      basis: 'read',
    },
    {
      of: 'The limit of 100 cfu/g',
      source: 'Regulation (EC) 2073/2005, as tabulated in EFSA Journal 2023;21(12):8442 table 30',
      basis: 'read',
    },
  ],
  'mean-kinetic-temperature': [{ of: 'Mean kinetic temperature', source: 'USP 29 <1160>', basis: 'read' }],
} as const satisfies Readonly<Record<string, readonly Source[]>>;

export const LISTERIA_MINIMUM: Source = {
  of: 'The minimum temperature of -1.18 °C, taken because none was sent',
  source: 'Recomputed from FDA/FSIS/CDC 2003, appendix 8 table 1 (19 of 22 rows)',
  basis: 'recomputed',
};

export const TOXIN: readonly Source[] = [
  {
    of: 'The advisory time to toxin (its coefficients)',
    source: 'Skinner & Larkin 1998, J. Food Prot. 61(9):1154-1160',
    basis: 'from-memory',
  },
  {
    of: 'That the advisory time stays under every earliest observation, 4 to 30 °C',
    source: 'The earliest observations in Skinner & Larkin 1998; J. Food Prot. 1987 50(4):330-336 and 50(5):390-398',
    basis: 'read',
  },
  {
    of: 'Ten days at 3 to 8 °C for vacuum-packed food without another control; nothing said below 3 °C',
    source: "FSA factsheet 'Vacuum packed chilled foods: Reducing the risk of Clostridium botulinum', 2008",
    basis: 'read',
  },
];

export const RECORDING_INTERVAL: Source = {
  of: 'That an hour is the longest interval between readings in transport',
  source: 'EN 12830:1999 4.9.2, as quoted in a logger compliance matrix',
  basis: 'second-hand',
};
