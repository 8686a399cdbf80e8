/**
 * SQL for the process (batch, packing run, conversion) that an entry's consumption belongs to; what was undone belongs to where it was.
 * @param e alias of the entry, @param o of the entry that it undoes (left join), @param v of the conversion of its scan (left join)
 */
export function processKey(e: string, o: string, v: string): string {
  return `case coalesce(${o}.kind, ${e}.kind)
              when 'batch-input' then ${e}.batch_id
              when 'packing' then ${e}.packing_run_id
              else coalesce(${v}.conversion_id, ${o}.fact_id, ${e}.fact_id)
            end`;
}
