/**
 * The application identifiers, from shared/gs1-identifiers.json: what a value is made of, whether a separator follows it, which
 * identifiers it needs beside it and which it cannot stand with, and where it goes in a Digital Link.
 *
 * Refusals: none. A table that cannot be understood throws RangeError when the service starts.
 */
import table from '../../../shared/gs1-identifiers.json' with { type: 'json' };

/** One element: an application identifier and its value, without brackets or separators. */
export interface Gs1Element {
  readonly ai: string;
  readonly value: string;
}

export interface ValuePart {
  readonly set: string;
  readonly min: number;
  readonly max: number;
  readonly optional: boolean;
  readonly checks: readonly string[];
}

export interface Identifier {
  readonly ai: string;
  /** the data title that is printed beside it */
  readonly title: string;
  readonly parts: readonly ValuePart[];
  readonly min: number;
  readonly max: number;
  /** false: predefined length, no FNC1 follows */
  readonly separator: boolean;
  /** one of these must be there too; `01+21` means both, `n` stands for any digit */
  readonly needs: readonly string[];
  readonly notWith: readonly string[];
  /** null: not a primary key; else the lists of qualifiers that may follow it in the path, in order */
  readonly linkKey: readonly (readonly string[])[] | null;
  readonly linkAttribute: boolean;
}

function partOf(text: string): ValuePart {
  const [set = '', length = '', ...rest] = text.split(' ');
  const [min, max = min] = length.split('-').map(Number);
  if (min === undefined || max === undefined || !(min > 0)) throw new RangeError(`Not a part of a value: ${text}`);
  return { set, min, max, optional: rest[0] === 'optional', checks: rest.filter((word) => word !== 'optional') };
}

type Row = (typeof table.identifiers)[number];

function identifierOf(row: Row, ai: string): Identifier {
  const parts = row.parts.map(partOf);
  return {
    ai,
    title: row.title,
    parts,
    min: parts.reduce((sum, part) => sum + (part.optional ? 0 : part.min), 0),
    max: parts.reduce((sum, part) => sum + part.max, 0),
    separator: row.separator ?? true,
    needs: row.needs ?? [],
    notWith: row.notWith ?? [],
    linkKey: row.linkKey ?? null,
    linkAttribute: row.linkAttribute ?? false,
  };
}

function rowsOf(row: Row): Identifier[] {
  const first = Number(row.ai);
  const last = Number(row.upTo ?? row.ai);
  return Array.from({ length: last - first + 1 }, (_, step) =>
    identifierOf(row, String(first + step).padStart(row.ai.length, '0')),
  );
}

const IDENTIFIERS: ReadonlyMap<string, Identifier> = new Map(
  table.identifiers.flatMap(rowsOf).map((identifier) => [identifier.ai, identifier]),
);

/** How long an identifier is by its first two digits; no two-digit prefix is shared by identifiers of different lengths. */
const LENGTH_BY_PREFIX: ReadonlyMap<string, number> = new Map(
  [...IDENTIFIERS.keys()].map((ai) => [ai.slice(0, 2), ai.length]),
);

/** The identifier `ai`, or undefined when no such identifier is published. */
export function identifierNamed(ai: string): Identifier | undefined {
  return IDENTIFIERS.get(ai);
}

/** The identifier that `text` has at `position`, or undefined. */
export function identifierAt(text: string, position: number): Identifier | undefined {
  const length = LENGTH_BY_PREFIX.get(text.slice(position, position + 2));
  return length === undefined ? undefined : IDENTIFIERS.get(text.slice(position, position + length));
}

const wordsOf = (list: { codes: string }): ReadonlySet<string> => new Set(list.codes.split(' '));
export const COUNTRY_NUMBERS = wordsOf(table.countryNumbers);
export const COUNTRY_LETTERS = wordsOf(table.countryLetters);
export const CURRENCY_NUMBERS = wordsOf(table.currencyNumbers);
