/**
 * Which business step of the Core Business Vocabulary 2.0 a posting is. Pure. There is no word for cooking: a transformation has the step
 * `commissioning`, of what comes out. Source of the words: gs1/EPCIS JSON schema 2.0.0; which goes where is our reading of CBV 7.1 and 7.2
 * (from memory).
 */
export type Action = 'ADD' | 'OBSERVE' | 'DELETE';

export interface Step {
  readonly action: Action;
  readonly bizStep: string;
  readonly disposition: string;
}

const step = (action: Action, bizStep: string, disposition: string): Step => ({ action, bizStep, disposition });

const STEPS: Readonly<Record<string, Step>> = {
  'opening-stock': step('OBSERVE', 'stock_taking', 'in_progress'),
  'goods-receipt': step('OBSERVE', 'receiving', 'in_progress'),
  dispatch: step('OBSERVE', 'shipping', 'in_transit'),
  receipt: step('OBSERVE', 'receiving', 'in_progress'),
  move: step('OBSERVE', 'storing', 'in_progress'),
  use: step('DELETE', 'dispensing', 'dispensed'),
  discard: step('DELETE', 'destroying', 'destroyed'),
};

const RETURNED_TO_SUPPLIER = step('DELETE', 'shipping', 'returned');
/** It was told as dispensed before: it is there again. */
const RETURNED_FROM_SERVICE = step('ADD', 'receiving', 'returned');
const USE_BY_COUNT = step('DELETE', 'dispensing', 'dispensed');
const COUNTED_LESS = step('DELETE', 'stock_taking', 'unknown');
const COUNTED_MORE = step('ADD', 'stock_taking', 'in_progress');

/**
 * @param entry kind of the entry; not a transformation, not a reversal
 * @param from, to kinds of account, without their shortfall twins
 */
export function stepOf(entry: string, from: string, to: string): Step {
  if (entry === 'return') return to === 'supplier' ? RETURNED_TO_SUPPLIER : RETURNED_FROM_SERVICE;
  if (entry === 'stock-count') {
    if (to === 'served') return USE_BY_COUNT;
    return from === 'variance' || from === 'served' ? COUNTED_MORE : COUNTED_LESS;
  }
  const known = STEPS[entry];
  if (!known) throw new RangeError(`An entry of kind ${entry} has no business step.`);
  return known;
}

export const TRANSFORMATIONS: readonly string[] = ['batch-input', 'batch-output', 'packing', 'conversion'];

/** What a hold and its end are; null: it says nothing about the food to a partner (a drill, an earlier date that has its own label). */
export interface HoldSteps {
  readonly placed: string;
  readonly lifted: string;
  readonly persistent: string | null;
}

const hold = (placed: string, lifted = 'conformant', persistent: string | null = null): HoldSteps => ({
  placed,
  lifted,
  persistent,
});

/** Dispositions of `holding` and, when it is lifted, of `inspecting`. */
export const HOLD_STEPS: Readonly<Record<string, HoldSteps | undefined>> = {
  'awaiting-release': hold('unavailable'),
  'awaiting-laboratory': hold('unavailable'),
  declaration: hold('unavailable'),
  'for-rework': hold('unavailable'),
  quality: hold('non_conformant'),
  safety: hold('non_conformant'),
  'failed-check': hold('non_conformant'),
  rejected: hold('non_conformant'),
  recall: hold('recalled', 'available', 'recalled'),
};
