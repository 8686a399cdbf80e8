/** The only door to recall: cases from the first call until every pack is accounted for. */
import type { BoundOperation } from '../../platform/http/contract.ts';

export const recallOperations: readonly BoundOperation[] = [];
