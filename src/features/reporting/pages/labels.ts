/** Words for the codes of waste. Sources: named in the shared tables. */
import destinationTable from '../../../../shared/destinations.json' with { type: 'json' };
import reasonTable from '../../../../shared/discard-reasons.json' with { type: 'json' };

const labels = (list: readonly { readonly code: string; readonly label: string }[]): ReadonlyMap<string, string> =>
  new Map(list.map(({ code, label }) => [code, label]));

const REASONS = labels(reasonTable.reasons.list);
const STAGES = labels(reasonTable.stages.list);
const DESTINATIONS = labels(destinationTable.list);

export const discardReasonLabel = (code: string): string => REASONS.get(code) ?? code;
export const stageLabel = (code: string): string => STAGES.get(code) ?? code;
export const destinationLabel = (code: string | null): string =>
  code === null ? 'not said' : (DESTINATIONS.get(code) ?? code);
