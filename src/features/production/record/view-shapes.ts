/** The record as parts of a page, the same for the screen and for paper. */

/** good: passed, released. bad: failed, rejected. warn: waits, or wants a look. quiet: beside the point. */
export type Tone = 'good' | 'bad' | 'warn' | 'quiet';

export interface Line {
  readonly text: string;
  readonly bold?: boolean;
  readonly small?: boolean;
  readonly struck?: boolean;
  readonly tone?: Tone;
  readonly href?: string;
}

/** Lines below each other; null: an empty box to write into, on paper only. */
export type ViewCell = readonly Line[] | null;

export interface ViewColumn {
  readonly title: string;
  readonly share: number;
  readonly align?: 'right';
}

export interface ViewTable {
  readonly id: string;
  readonly heading: string;
  readonly note?: string;
  readonly columns: readonly ViewColumn[];
  readonly rows: readonly (readonly ViewCell[])[];
  readonly none: string;
  /** only where there is a pen */
  readonly onPaper?: true;
}

export interface ViewPictures {
  readonly id: string;
  /** null: its title stands in the picture */
  readonly heading: string | null;
  readonly note?: string;
  readonly svgs: readonly string[];
}

/** A label and what it stands for. */
type ViewFact = readonly [label: string, value: string, below?: string];

export interface ViewFacts {
  readonly id: string;
  readonly heading: string | null;
  readonly facts: readonly ViewFact[];
}

export interface RecordView {
  readonly title: string;
  readonly code: string;
  readonly dish: string;
  readonly place: string;
  readonly standing: { readonly tone: Tone; readonly word: string; readonly sentence: string };
  readonly parts: readonly (ViewTable | ViewPictures | ViewFacts)[];
  readonly cautions: readonly string[];
  readonly foot: string;
  readonly madeAtMs: number;
}

export const plain = (text: string): ViewCell => [{ text }];
export const bold = (text: string, ...below: readonly (string | null)[]): ViewCell => [
  { text, bold: true },
  ...below.flatMap((line) => (line === null || line === '' ? [] : [{ text: line, small: true }])),
];
