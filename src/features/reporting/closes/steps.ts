/** What is made after a month was closed. */

export const MAKE_MONTH_FILES = 'make-month-files';

/** In this order, each kept before the next begins. */
export const STEPS = ['costs', 'json', 'signature', 'csv', 'xlsx', 'html', 'pdf'] as const;
export type Step = (typeof STEPS)[number];

export const nextStep = (done: readonly string[]): Step | null => STEPS.find((step) => !done.includes(step)) ?? null;
