/** What shows after packing, and why, in the words of packing and of a recall's complaint. */
export const FAULT_KINDS = ['leaker', 're-bagged', 'complaint'] as const;

export const FAULT_REASONS = [
  'leak',
  'dirty-seal-area',
  'crease',
  'pierced',
  'foreign-body',
  'illness',
  'taste-or-smell',
  'other',
] as const;
