/** EPCIS 2.0 events as JSON-LD, as far as we emit them. Pure. */
import { DateTime } from 'luxon';
import type { Action } from './steps.ts';

export interface ClassQuantity {
  readonly epcClass: string;
  /** left out: of however much there is */
  readonly quantity?: number;
  readonly uom?: string;
}

export interface EpcisEvent {
  readonly type: 'ObjectEvent' | 'AggregationEvent' | 'TransformationEvent';
  readonly eventID: string;
  /** RFC 3339 with the site's offset */
  readonly eventTime: string;
  readonly eventTimeZoneOffset: string;
  readonly action?: Action;
  readonly bizStep?: string;
  readonly disposition?: string;
  readonly persistentDisposition?: { readonly set?: readonly string[]; readonly unset?: readonly string[] };
  readonly readPoint?: { readonly id: string };
  readonly bizLocation?: { readonly id: string };
  readonly parentID?: string;
  readonly epcList?: readonly string[];
  readonly quantityList?: readonly ClassQuantity[];
  readonly childEPCs?: readonly string[];
  readonly childQuantityList?: readonly ClassQuantity[];
  readonly transformationID?: string;
  readonly inputEPCList?: readonly string[];
  readonly inputQuantityList?: readonly ClassQuantity[];
  readonly outputEPCList?: readonly string[];
  readonly outputQuantityList?: readonly ClassQuantity[];
  readonly ilmd?: Readonly<Record<string, string>>;
  readonly bizTransactionList?: readonly { readonly type: string; readonly bizTransaction: string }[];
  readonly sourceList?: readonly { readonly type: string; readonly source: string }[];
  readonly destinationList?: readonly { readonly type: string; readonly destination: string }[];
  readonly sensorElementList?: readonly {
    readonly sensorMetadata: Readonly<Record<string, string>>;
    readonly sensorReport: readonly Readonly<Record<string, string | number>>[];
  }[];
  readonly errorDeclaration?: {
    readonly declarationTime: string;
    readonly reason: 'did_not_occur' | 'incorrect_data';
    readonly correctiveEventIDs?: readonly string[];
  };
}

/** An event and what is known of it beside the standard's fields. */
export interface EventDraft {
  /** the fact and the part of it; one event has one source for ever */
  readonly source: string;
  /** who may see it: those who act at one of these */
  readonly siteIds: readonly string[];
  readonly lotIds: readonly string[];
  readonly dispatchId: string | null;
  readonly recordedAtMs: number;
  readonly event: EpcisEvent;
}

/** The two fields of time of every event: the moment and the clock of the site there. */
export function timeFields(atMs: number, timeZone: string): Pick<EpcisEvent, 'eventTime' | 'eventTimeZoneOffset'> {
  const at = DateTime.fromMillis(atMs, { zone: timeZone });
  return { eventTime: at.toFormat("yyyy-MM-dd'T'HH:mm:ss.SSSZZ"), eventTimeZoneOffset: at.toFormat('ZZ') };
}

/** The same event again, with the word that it was wrong: nothing is edited or deleted (EPCIS 2.0, section 7.4.1.4, from memory). */
export function declareWrong(
  event: EpcisEvent,
  declaredAtMs: number,
  reason: 'did_not_occur' | 'incorrect_data',
  correctiveEventIds: readonly string[] = [],
): EpcisEvent {
  return {
    ...event,
    errorDeclaration: {
      declarationTime: timeFields(declaredAtMs, 'utc').eventTime,
      reason,
      ...(correctiveEventIds.length > 0 && { correctiveEventIDs: correctiveEventIds }),
    },
  };
}
