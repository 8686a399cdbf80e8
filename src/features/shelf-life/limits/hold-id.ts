/** The hold that a limit leads to is named by it: a second computation places nothing twice, and one that was lifted stays lifted. */
import { derivedId } from '../../../platform/ids.ts';

export function holdIdOf(
  lotId: string,
  partId: string,
  cause: { readonly code: string; readonly endsAtMs: number | null },
): string {
  return derivedId(`shelf-life-${cause.code}-${partId}-${cause.endsAtMs ?? 0}`, lotId);
}
