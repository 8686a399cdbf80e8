/**
 * EPCIS 2.0 query parameters (ISO/IEC 19987, simple event query) as a list of conditions that all have to hold; the values of one parameter
 * are alternatives. Pure: what the conditions mean on stored events is in the exchange feature.
 *
 * A parameter that is not known, or that the standard has and this service does not, is refused by name: an answer to another question
 * than the one asked is worse than none. Source of names and rules: gs1/EPCIS openapi.yaml 2.0.0 and query-schema.json; flexible names
 * (`EQ_ILMD_…`, `GE_value_…`) from memory of the standard's section 8.2.7.1.
 *
 * Refusal: `epcis-query-invalid`.
 */
import {
  booleanOf,
  linkList,
  listFrom,
  listOf,
  numberOf,
  patternList,
  refuse,
  timeOf,
  uriList,
  wholeOf,
  wordList,
  type Asked,
} from './query-values.ts';
import { ACTIONS, BIZ_STEPS, DISPOSITIONS, ERROR_REASONS, EVENT_TYPES } from './query-vocabulary.ts';

export type TextField =
  | 'type'
  | 'action'
  | 'bizStep'
  | 'disposition'
  | 'persistentDisposition_set'
  | 'persistentDisposition_unset'
  | 'readPoint'
  | 'bizLocation'
  | 'transformationID'
  | 'eventID'
  | 'errorReason'
  | 'correctiveEventID';
export type TimeField = 'eventTime' | 'recordTime' | 'startTime' | 'endTime' | 'errorDeclarationTime';
/** Where in an event things are named. */
export type ThingList = 'epcs' | 'parent' | 'inputEpcs' | 'outputEpcs' | 'classes' | 'inputClasses' | 'outputClasses';
type SensorText =
  | 'type'
  | 'deviceID'
  | 'dataProcessingMethod'
  | 'microorganism'
  | 'chemicalSubstance'
  | 'bizRules'
  | 'stringValue'
  | 'hexBinaryValue'
  | 'uriValue';
type Comparison = '=' | '>' | '>=' | '<' | '<=';

export type Condition =
  | { readonly kind: 'text'; readonly field: TextField; readonly values: readonly string[] }
  /** the place itself, or what is under it */
  | { readonly kind: 'within'; readonly field: 'readPoint' | 'bizLocation'; readonly values: readonly string[] }
  | { readonly kind: 'time'; readonly field: TimeField; readonly op: '>=' | '<'; readonly atMs: number }
  /** `*` stands for any characters but a slash */
  | { readonly kind: 'things'; readonly lists: readonly ThingList[]; readonly patterns: readonly string[] }
  | { readonly kind: 'quantity'; readonly op: Comparison; readonly value: number }
  | { readonly kind: 'error-declared' }
  /** type and value of a business transaction, source or destination */
  | {
      readonly kind: 'typed';
      readonly list: 'bizTransaction' | 'source' | 'destination';
      readonly type: string;
      readonly values: readonly string[];
    }
  | { readonly kind: 'sensor-text'; readonly attribute: SensorText; readonly values: readonly string[] }
  | { readonly kind: 'sensor-boolean'; readonly value: boolean }
  /** any of these: the same amount in each unit it can be said in */
  | {
      readonly kind: 'sensor-number';
      readonly attribute: string;
      readonly op: Comparison;
      readonly amounts: readonly { readonly uom: string; readonly value: number }[];
    }
  | { readonly kind: 'sensor-there' }
  | {
      readonly kind: 'own-field';
      readonly where: 'event' | 'ilmd';
      readonly name: string;
      readonly values: readonly string[] | null;
    };

export interface EpcisQuery {
  readonly conditions: readonly Condition[];
  readonly orderBy: 'recorded' | 'eventTime' | 'recordTime';
  readonly direction: 'ASC' | 'DESC';
  /** only the first so many */
  readonly eventCountLimit: number | null;
  /** more than so many are refused */
  readonly maxEventCount: number | null;
  readonly perPage: number;
  readonly nextPageToken: string | null;
}

const PER_PAGE = 30;
/** A larger page is answered with this many; the standard lets a server have such a limit. */
export const MOST_PER_PAGE = 500;
const MOST_EVENTS = 1_000_000;

const text =
  (field: TextField, read: (asked: Asked) => readonly string[]) =>
  (asked: Asked): Condition => ({ kind: 'text', field, values: read(asked) });
const within =
  (field: 'readPoint' | 'bizLocation') =>
  (asked: Asked): Condition => ({ kind: 'within', field, values: linkList(asked) });
const things =
  (...lists: readonly ThingList[]) =>
  (asked: Asked): Condition => ({ kind: 'things', lists, patterns: patternList(asked) });
const sensor =
  (attribute: SensorText, read: (asked: Asked) => readonly string[]) =>
  (asked: Asked): Condition => ({ kind: 'sensor-text', attribute, values: read(asked) });
const bizSteps = (asked: Asked) => wordList(asked, BIZ_STEPS);
const dispositions = (asked: Asked) => wordList(asked, DISPOSITIONS);

/** Conditions with a fixed name. */
const FIXED: Readonly<Record<string, (asked: Asked) => Condition | null>> = {
  eventType: text('type', (asked) => listFrom(asked, EVENT_TYPES)),
  EQ_action: text('action', (asked) => listFrom(asked, ACTIONS)),
  EQ_bizStep: text('bizStep', bizSteps),
  EQ_disposition: text('disposition', dispositions),
  EQ_persistentDisposition_set: text('persistentDisposition_set', dispositions),
  EQ_persistentDisposition_unset: text('persistentDisposition_unset', dispositions),
  EQ_readPoint: text('readPoint', linkList),
  EQ_bizLocation: text('bizLocation', linkList),
  WD_readPoint: within('readPoint'),
  WD_bizLocation: within('bizLocation'),
  EQ_transformationID: text('transformationID', listOf),
  EQ_eventID: text('eventID', uriList),
  EQ_errorReason: text('errorReason', (asked) => wordList(asked, ERROR_REASONS)),
  EQ_correctiveEventID: text('correctiveEventID', uriList),
  EXISTS_errorDeclaration: (asked) => (booleanOf(asked) ? { kind: 'error-declared' } : null),
  EXISTS_sensorElementList: (asked) => (booleanOf(asked) ? { kind: 'sensor-there' } : null),
  MATCH_epc: things('epcs'),
  MATCH_parentID: things('parent'),
  MATCH_inputEPC: things('inputEpcs'),
  MATCH_outputEPC: things('outputEpcs'),
  MATCH_anyEPC: things('epcs', 'parent', 'inputEpcs', 'outputEpcs'),
  MATCH_epcClass: things('classes'),
  MATCH_inputEPCClass: things('inputClasses'),
  MATCH_outputEPCClass: things('outputClasses'),
  MATCH_anyEPCClass: things('classes', 'inputClasses', 'outputClasses'),
  EQ_type: sensor('type', listOf),
  EQ_deviceID: sensor('deviceID', uriList),
  EQ_dataProcessingMethod: sensor('dataProcessingMethod', uriList),
  EQ_microorganism: sensor('microorganism', uriList),
  EQ_chemicalSubstance: sensor('chemicalSubstance', uriList),
  EQ_bizRules: sensor('bizRules', uriList),
  EQ_stringValue: sensor('stringValue', listOf),
  EQ_hexBinaryValue: sensor('hexBinaryValue', listOf),
  EQ_uriValue: sensor('uriValue', uriList),
  EQ_booleanValue: (asked) => ({ kind: 'sensor-boolean', value: booleanOf(asked) }),
};

const COMPARISONS: Readonly<Record<string, Comparison>> = { EQ: '=', GT: '>', GE: '>=', LT: '<', LE: '<=' };
const TIME_NAME = /^(GE|LT)_(eventTime|recordTime|startTime|endTime|errorDeclarationTime)$/;
const QUANTITY_NAME = /^(EQ|GT|GE|LT|LE)_quantity$/;
const TYPED_NAME = /^EQ_(bizTransaction|source|destination)_(.+)$/;
const SENSOR_NAME = /^(EQ|GT|GE|LT|LE)_(value|minValue|maxValue|meanValue|sDev)_([A-Z0-9]{2,3})$/;
/** A field of somebody's own has a prefix, a colon and a name; the standard's have none. */
const OWN_NAME = /^(EQ|EXISTS)_(ILMD_)?([A-Za-z][A-Za-z0-9]*:\w+)$/;

function flexible(asked: Asked): Condition | null {
  const [name] = asked;
  const time = TIME_NAME.exec(name);
  if (time)
    return { kind: 'time', field: time[2] as TimeField, op: time[1] === 'GE' ? '>=' : '<', atMs: timeOf(asked) };
  const quantity = QUANTITY_NAME.exec(name);
  if (quantity) return { kind: 'quantity', op: COMPARISONS[quantity[1] ?? ''] ?? '=', value: numberOf(asked) };
  const typed = TYPED_NAME.exec(name);
  if (typed) {
    const values = typed[1] === 'bizTransaction' ? uriList(asked) : linkList(asked);
    return { kind: 'typed', list: typed[1] as 'source', type: typed[2] ?? '', values };
  }
  const measured = SENSOR_NAME.exec(name);
  if (measured) {
    const [, op = '', attribute = '', uom = ''] = measured;
    return {
      kind: 'sensor-number',
      attribute,
      op: COMPARISONS[op] ?? '=',
      amounts: inEachUnit(numberOf(asked), uom, attribute),
    };
  }
  const own = OWN_NAME.exec(name);
  if (own?.[1] === 'EXISTS' && !booleanOf(asked)) return null;
  if (own) {
    const values = own[1] === 'EXISTS' ? null : listOf(asked);
    return { kind: 'own-field', where: own[2] === undefined ? 'event' : 'ilmd', name: own[3] ?? '', values };
  }
  throw refuse(asked, 'there is no such parameter here');
}

const round = (value: number) => Number(value.toFixed(6));

/** A temperature is the same in Celsius, kelvin and Fahrenheit (UN/ECE Rec. 20: CEL, KEL, FAH); a spread of it has no zero point. */
function inEachUnit(value: number, uom: string, attribute: string): { uom: string; value: number }[] {
  const celsius = { CEL: value, KEL: value - 273.15, FAH: ((value - 32) * 5) / 9 }[uom];
  if (celsius === undefined || attribute === 'sDev') return [{ uom, value }];
  const others = [
    { uom: 'CEL', value: round(celsius) },
    { uom: 'KEL', value: round(celsius + 273.15) },
    { uom: 'FAH', value: round((celsius * 9) / 5 + 32) },
  ];
  return others.map((one) => (one.uom === uom ? { uom, value } : one));
}

const TIME_PARAMETERS = ['eventTime', 'recordTime', 'startTime', 'endTime', 'errorDeclarationTime'].flatMap((field) => [
  `GE_${field}`,
  `LT_${field}`,
]);
const QUANTITY_PARAMETERS = Object.keys(COMPARISONS).map((name) => `${name}_quantity`);

/** Every parameter with a fixed name, for the contract. */
export const QUERY_PARAMETERS: readonly string[] = [...Object.keys(FIXED), ...TIME_PARAMETERS, ...QUANTITY_PARAMETERS];

/** The events of one resource: of a type, a step, a place … or those that name a thing anywhere. */
export const RESOURCE_CONDITIONS = {
  eventTypes: FIXED['eventType'],
  epcs: things('epcs', 'parent', 'inputEpcs', 'outputEpcs', 'classes', 'inputClasses', 'outputClasses'),
  bizSteps: FIXED['EQ_bizStep'],
  bizLocations: FIXED['EQ_bizLocation'],
  readPoints: FIXED['EQ_readPoint'],
  dispositions: FIXED['EQ_disposition'],
} as const;

const CONTROLS = ['orderBy', 'orderDirection', 'eventCountLimit', 'maxEventCount', 'perPage', 'nextPageToken'];

/**
 * @param parameters by name, decoded
 * @throws Refused `epcis-query-invalid`
 */
export function readQuery(parameters: Readonly<Record<string, string>>): EpcisQuery {
  const conditions = Object.entries(parameters)
    .filter(([name]) => !CONTROLS.includes(name))
    .map((asked) => (Object.hasOwn(FIXED, asked[0]) ? FIXED[asked[0]]?.(asked) : flexible(asked)))
    .filter((condition): condition is Condition => condition !== null && condition !== undefined);
  const asked = (name: string): Asked | null => (parameters[name] === undefined ? null : [name, parameters[name]]);
  const orderBy = asked('orderBy');
  const limit = asked('eventCountLimit');
  const most = asked('maxEventCount');
  const perPage = asked('perPage');
  const direction = asked('orderDirection');
  if (limit && most) throw refuse(limit, 'goes together with no maxEventCount');
  if (limit && !orderBy) throw refuse(limit, 'says the first of an order, so it needs orderBy');
  if (orderBy && orderBy[1] !== 'eventTime' && orderBy[1] !== 'recordTime') {
    throw refuse(orderBy, `events are ordered by eventTime or recordTime, not by ${orderBy[1]}`);
  }
  if (direction && direction[1] !== 'ASC' && direction[1] !== 'DESC') throw refuse(direction, 'ASC or DESC is wanted');
  return {
    conditions,
    orderBy: orderBy ? (orderBy[1] as 'eventTime') : 'recorded',
    direction: orderBy ? ((direction?.[1] ?? 'DESC') as 'DESC') : 'ASC',
    eventCountLimit: limit && wholeOf(limit, 1, MOST_EVENTS),
    maxEventCount: most && wholeOf(most, 0, MOST_EVENTS),
    perPage: perPage ? Math.min(wholeOf(perPage, 1, MOST_EVENTS), MOST_PER_PAGE) : PER_PAGE,
    nextPageToken: parameters['nextPageToken'] ?? null,
  };
}
