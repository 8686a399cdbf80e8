/** What the feed tells: shared/event-types.json, read once. */
import table from '../../../../shared/event-types.json' with { type: 'json' };

interface EventType {
  readonly from: string;
  readonly about: string;
  /** of an entry: its kind in the ledger */
  readonly kind?: string;
  /** of a row of the outbox: what is told of it; an entry's are the same for all kinds, see describe.ts */
  readonly fields?: readonly string[];
}

export type EventTypeName = keyof typeof table;

export const eventTypes: Readonly<Record<string, EventType>> = table;

export const eventTypeNames = Object.keys(table) as EventTypeName[];

const BY_ENTRY_KIND = new Map(
  Object.entries(eventTypes).flatMap(([type, { kind }]) => (kind === undefined ? [] : [[kind, type] as const])),
);

/** Throws when an entry is of a kind that the table does not name: better no number yet than a fact that nobody is told of. */
export function typeOfEntry(kind: string): string {
  const type = BY_ENTRY_KIND.get(kind);
  if (type === undefined) throw new Error(`shared/event-types.json names no type for entries of kind ${kind}`);
  return type;
}
