/** The edge to other systems: event feed, webhooks, EPCIS, spreadsheets. */
import type { BoundOperation } from '../../platform/http/contract.ts';
import type { Job } from '../../platform/jobs.ts';

export const exchangeOperations: readonly BoundOperation[] = [];

/** Background work of the exchange. */
export function exchangeJobs(_parts: unknown): readonly Job[] {
  return [];
}
