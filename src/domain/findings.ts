/** Kinds of findings of shared/findings.json, in words: what it is, and what to do about it. */
import table from '../../shared/findings.json' with { type: 'json' };

export interface FindingWords {
  readonly label: string;
  readonly advice: string;
}

const words = new Map(table.kinds.map(({ code, label, advice }) => [code, { label, advice }]));

/** True when the shared list says what it is and what to do: a finding that nobody can act on is not made. */
export const isFindingKind = (kind: string): boolean => words.has(kind);

export function wordsOfFinding(kind: string): FindingWords {
  return words.get(kind) ?? { label: kind.replaceAll('-', ' '), advice: 'Look at it with the quality lead.' };
}
