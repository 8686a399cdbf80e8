/** What the job is woken by. */
export const EXPORT_JOB = 'make-report-exports';
