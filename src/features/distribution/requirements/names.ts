/** A requirement is named by what it asks for, so that a new number for the same finds the same requirement. */
import { derivedId } from '../../../platform/ids.ts';

export interface AskedFor {
  readonly siteId: string;
  readonly serviceDate: string;
  readonly meal: string;
  readonly itemId: string;
  readonly textureLevel: number | null;
  /** sorted, each once */
  readonly dietCodes: readonly string[];
}

export function requirementIdOf(asked: AskedFor): string {
  const { siteId, serviceDate, meal, itemId, textureLevel, dietCodes } = asked;
  return derivedId(
    'requirement',
    [siteId, serviceDate, meal, itemId, textureLevel ?? '-', dietCodes.join('+')].join('/'),
  );
}
