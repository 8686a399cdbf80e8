/** An excursion is named by where it was, on which side of the limits, and when it began: found anew, it is the same one. */
import { derivedId } from '../../../platform/ids.ts';

export function excursionIdOf(groupId: string, subject: string, one: { side: string; startMs: number }): string {
  return derivedId(`excursion-${groupId}-${one.side}-${one.startMs}`, subject);
}
