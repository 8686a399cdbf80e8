/** What follows from an attempt to deliver. The schedule is data: shared/webhook-retries.json, with its source. */
import table from '../../shared/webhook-retries.json' with { type: 'json' };

export type Outcome =
  | { readonly kind: 'delivered' }
  /** tried again after so long */
  | { readonly kind: 'again'; readonly afterS: number }
  /** not tried again; with a reason, the whole webhook is off */
  | { readonly kind: 'given-up'; readonly disables: string | null };

/**
 * @param status of the answer; null when there was none
 * @param attempts made so far, this one included
 */
export function outcomeOf(status: number | null, attempts: number, isTest: boolean): Outcome {
  if (status !== null && status >= 200 && status <= 299) return { kind: 'delivered' };
  if (isTest) return { kind: 'given-up', disables: null };
  if (status === 410) return { kind: 'given-up', disables: 'The address answered 410: it wants no more.' };
  const afterS = table.delaysS[attempts - 1];
  if (afterS !== undefined) return { kind: 'again', afterS };
  return { kind: 'given-up', disables: `An event was not taken in ${attempts} attempts over more than three days.` };
}

/** How long an address is left alone after so many failures in a row, so that a dead one keeps no one else waiting. */
export function restS(failures: number): number {
  const { afterFailures, firstS, mostS } = table.rest;
  return failures < afterFailures ? 0 : Math.min(firstS * 2 ** Math.min(failures - afterFailures, 20), mostS);
}
