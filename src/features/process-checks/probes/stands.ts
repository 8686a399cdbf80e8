/** A calibration that was entered wrongly stays readable; what is worked out goes by the one that stands in its place. */

/** SQL: nothing stands in the place of the calibration with this alias. */
export const stands = (alias: string): string => `not exists (
  select from probe_calibration later
   where later.group_id = ${alias}.group_id and later.supersedes_calibration_id = ${alias}.calibration_id)`;
