/**
 * Test vectors of the open standards: reference material that stands beside the repository and is never committed. Where it is missing
 * the tests say so and go on.
 */
import { existsSync, readFileSync } from 'node:fs';

/** What the reference engine of GS1 answers with all its checks switched on. */
interface Strict {
  readonly valid: boolean;
  readonly ais?: readonly (readonly [string, string])[];
}

export interface Vector {
  readonly id: string;
  readonly kind: string;
  readonly title?: string;
  readonly config?: unknown;
  readonly input: unknown;
  readonly expected: unknown;
  readonly valid: boolean;
  readonly strict?: Strict;
}

const url = new URL('../../../shared/reference/standards/vectors.json', import.meta.url);
export const vectorsAreThere = existsSync(url);
if (!vectorsAreThere) console.warn('SKIPPED the shared standards vectors, they are not beside this checkout');

const all: readonly Vector[] = vectorsAreThere ? (JSON.parse(readFileSync(url, 'utf8')) as Vector[]) : [];

export const vectorsOf = (kind: string): readonly Vector[] => all.filter((vector) => vector.kind === kind);

export const kindsUnder = (prefix: string): readonly string[] => [
  ...new Set(all.filter(({ kind }) => kind.startsWith(prefix)).map(({ kind }) => kind)),
];

/** The bytes of a picture that a vector names. */
export const pictureOf = (name: string): Uint8Array => readFileSync(new URL(name, url));
