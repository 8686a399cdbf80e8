/** What a stored EPCIS event is, for those who query it. */

/** A row of `epcis_event`. `body` is the event as JSON-LD without recordTime; the other columns repeat of it what queries ask for. */
export interface EpcisEventRow {
  readonly eventNo: number;
  readonly eventId: string;
  readonly recordTime: Date;
  readonly body: Readonly<Record<string, unknown>>;
}
