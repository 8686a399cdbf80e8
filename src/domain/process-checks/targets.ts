/** How much heat is enough, from shared/policies/lethality-targets.json: targets for a series, and what was published beside them. */
import file from '../../../shared/policies/lethality-targets.json' with { type: 'json' };
import { Refused } from '../errors.ts';
import type { LethalityTarget, Source } from './shapes.ts';

/** What of a target was read, worked out or remembered, number by number. */
export interface SourcedNumber extends Source {
  readonly number: string;
  readonly value: number;
  readonly unit: string;
}

/** The temperature below which an experiment needed longer than the target's line says. */
interface LeastShown {
  readonly temperatureC: number;
  readonly why: string;
}

/** default: what is held against unless a plan says otherwise; stricter and looser: than the one it is compared with. */
type Standing = 'default' | 'stricter' | 'looser';

interface FiledTarget extends Omit<LethalityTarget, 'source'>, Source {
  readonly organism: string;
  readonly standing: Standing;
  readonly comparedWith: string | null;
  readonly numbers: readonly SourcedNumber[];
  readonly leastShown: LeastShown | null;
  readonly note: string;
}

const FILED = file.targets as unknown as readonly FiledTarget[];

/** The whole file as it is answered: methods, targets, equivalents, core temperatures. */
export const lethalityFile = file;

/** @throws Refused rule-broken that names the codes there are */
export function lethalityTarget(code: string): LethalityTarget {
  const filed = FILED.find((one) => one.code === code);
  if (!filed) {
    const codes = FILED.map((one) => one.code).join(', ');
    throw new Refused('rule-broken', `No lethality target has the code ${code}. There are: ${codes}.`, {
      errors: [{ detail: 'unknown target', pointer: '#/target' }],
    });
  }
  return targetOf(filed);
}

/** The filed target that these numbers are, if they are one's. */
export function targetWith(numbers: Omit<LethalityTarget, 'code' | 'label' | 'source'>): LethalityTarget | null {
  const filed = FILED.find(
    (one) =>
      one.referenceTemperatureC === numbers.referenceTemperatureC &&
      one.zBelowC === numbers.zBelowC &&
      one.zAboveC === numbers.zAboveC &&
      one.targetMinutes === numbers.targetMinutes &&
      one.logReduction === numbers.logReduction,
  );
  return filed ? targetOf(filed) : null;
}

export const leastShownOf = (code: string): LeastShown | null =>
  FILED.find((one) => one.code === code)?.leastShown ?? null;

/** Empty for a target of somebody's own. */
export const numbersOf = (code: string): readonly SourcedNumber[] =>
  FILED.find((one) => one.code === code)?.numbers ?? [];

function targetOf(filed: FiledTarget): LethalityTarget {
  const { code, label, referenceTemperatureC, zBelowC, zAboveC, targetMinutes, logReduction } = filed;
  const { source, edition, basis } = filed;
  const numbers = { referenceTemperatureC, zBelowC, zAboveC, targetMinutes, logReduction };
  return { code, label, ...numbers, source: { source, edition, basis } };
}
