/**
 * Rules for events that are captured, by GS1's examples and by documents that break one rule each. `standardValid` is what the standard says,
 * also where its schema cannot. Test data beside the repository; skipped, aloud, where it is not there.
 */
import { existsSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, test } from 'vitest';
import { eventsOf } from '../../src/domain/epcis/capture-checks.ts';
import { eventFaults } from '../../src/domain/epcis/capture-rules.ts';

interface Patch {
  readonly op: 'add' | 'remove' | 'replace';
  readonly path: string;
  readonly value?: unknown;
}
interface Vector {
  readonly id: string;
  readonly kind: string;
  readonly title?: string;
  readonly input: { readonly file?: string; readonly patch?: readonly Patch[] };
  readonly valid: boolean;
  readonly expected: { readonly standardValid?: boolean };
}
const standards = path.resolve(import.meta.dirname, '../../../shared/reference/standards');
const there = existsSync(path.join(standards, 'vectors.json'));
const read = (file: string) => JSON.parse(readFileSync(path.join(standards, file), 'utf8')) as Vector[];
const vectors = there
  ? read('vectors.json').filter(({ kind }) => /^epcis\.(document|mutation|food-document)$/.test(kind))
  : [];

/** RFC 6902, as far as the vectors use it. */
function patched(document: unknown, patches: readonly Patch[]): unknown {
  const copy = structuredClone(document);
  for (const { op, path: pointer, value } of patches) {
    const steps = pointer.split('/').slice(1);
    const last = steps.pop() ?? '';
    const target = steps.reduce((at, step) => (at as Record<string, unknown>)[step], copy) as Record<string, unknown>;
    if (op === 'remove') Reflect.deleteProperty(target, last);
    else target[last] = value;
  }
  return copy;
}

describe.skipIf(!there)('GS1 documents', () => {
  console.log(there ? `${vectors.length} vectors of EPCIS documents` : 'EPCIS documents: no vectors here, skipped');

  test.each(vectors)('$id $title', ({ input, valid, expected }) => {
    const document = input.file === undefined ? input : patched(read(input.file), input.patch ?? []);
    const found = eventsOf(document);
    // Two of GS1's examples that show every field are measured after their event, which its test M122 forbids; they speak of the schema only.
    const late = expected.standardValid === undefined ? /measured after/ : /^$/;
    const faults = found?.events.flatMap(eventFaults).filter(({ detail }) => !late.test(detail));
    expect(faults?.length === 0, JSON.stringify(faults)).toBe(expected.standardValid ?? valid);
  });
});
