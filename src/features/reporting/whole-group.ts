/** Months are closed for the whole group. Refusal: `forbidden`. */
import { Refused } from '../../domain/errors.ts';
import type { SiteScope } from '../../platform/http/contract.ts';

/** Before anything is read, so that nobody is told by the time it takes whether a month is closed. */
export function requireWholeGroup(scope: SiteScope): void {
  if (!scope.all) {
    throw new Refused('forbidden', "A month is the whole group's: it is for those who may read every site's figures.");
  }
}
