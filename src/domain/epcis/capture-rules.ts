/**
 * Rules of EPCIS 2.0 that a captured event has to keep. A list of rules, not of types: each says what is wrong in words and where. Source:
 * EPCIS-JSON-Schema.json (gs1/EPCIS, 2.0.0) for what a schema can say; that aggregation with ADD or DELETE needs its parent and that a sensor's
 * time is not after the event's are of the standard's text and tests (M122; the former from memory).
 */
import { isEpcisTime, type Fault } from './capture-checks.ts';
import { isUri } from './query-uris.ts';
import { ACTIONS, BIZ_STEPS, DISPOSITIONS, ERROR_REASONS, EVENT_TYPES } from './query-vocabulary.ts';

type Fields = Readonly<Record<string, unknown>>;
type Say = (pointer: string, detail: string) => void;

const isFields = (value: unknown): value is Fields =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

const OFFSET = /^([+-](0\d|1[0-3]):[0-5]\d|[+-]14:00)$/;
/** The form of a code of UN/ECE Recommendation 20. */
const UOM = /^[A-Z0-9]{2,3}$/;
const OLD_WORD = /^(urn:epcglobal:cbv|https?:\/\/ns\.gs1\.org\/cbv\/)/;

const isUriText = (value: unknown): value is string => typeof value === 'string' && isUri(value);

function sayWord(say: Say, pointer: string, value: unknown, words: readonly string[]): void {
  if (value === undefined) return;
  const fits = typeof value === 'string' && (words.includes(value) || (isUri(value) && !OLD_WORD.test(value)));
  if (!fits) say(pointer, 'neither a word of CBV 2.0 nor a URI of your own');
}

function sayUris(say: Say, pointer: string, value: unknown): void {
  if (value === undefined) return;
  if (!Array.isArray(value)) return say(pointer, 'a list of URIs is wanted');
  value.forEach((one, at) => isUriText(one) || say(`${pointer}/${at}`, 'a URI is wanted'));
  if (new Set(value).size < value.length) say(pointer, 'it names one thing twice');
}

/** Entries of a list of objects, each looked at by itself. */
function sayEach(say: Say, pointer: string, value: unknown, look: (one: Fields, at: string) => void): void {
  if (value === undefined) return;
  if (!Array.isArray(value) || value.length === 0) return say(pointer, 'a list that is not empty is wanted');
  value.forEach((one: unknown, at) => {
    if (isFields(one)) look(one, `${pointer}/${at}`);
    else say(`${pointer}/${at}`, 'an object is wanted');
  });
}

function sayQuantities(say: Say, pointer: string, value: unknown): void {
  if (Array.isArray(value) && value.length === 0) return;
  sayEach(say, pointer, value, (one, at) => {
    if (!isUriText(one.epcClass)) say(`${at}/epcClass`, 'a URI is wanted');
    const { quantity, uom } = one;
    if (quantity !== undefined && (typeof quantity !== 'number' || quantity < 0)) {
      say(`${at}/quantity`, 'a number that is not below zero is wanted');
    }
    if (uom !== undefined && (typeof uom !== 'string' || !UOM.test(uom))) {
      say(`${at}/uom`, 'a code of UN/ECE Recommendation 20 is wanted, such as KGM');
    }
  });
}

function saySensors(say: Say, event: Fields): void {
  sayEach(say, '/sensorElementList', event.sensorElementList, (one, at) => {
    sayEach(say, `${at}/sensorReport`, one.sensorReport ?? [], () => undefined);
    if (!isFields(one.sensorMetadata)) return;
    for (const name of ['time', 'startTime', 'endTime']) {
      const value = one.sensorMetadata[name];
      if (value === undefined) continue;
      const pointer = `${at}/sensorMetadata/${name}`;
      if (!isEpcisTime(value)) say(pointer, 'a time with offset is wanted');
      else if (name === 'time' && isEpcisTime(event.eventTime) && Date.parse(value) > Date.parse(event.eventTime)) {
        say(pointer, 'it was measured after the event');
      }
    }
  });
}

function sayPlace(say: Say, pointer: string, value: unknown): void {
  if (value !== undefined && !(isFields(value) && isUriText(value.id)))
    say(pointer, 'an object with a URI as id is wanted');
}

function sayCommon(say: Say, event: Fields): void {
  if (!isEpcisTime(event.eventTime)) say('/eventTime', 'a time with offset is wanted');
  const offset = event.eventTimeZoneOffset;
  if (typeof offset !== 'string' || !OFFSET.test(offset))
    say('/eventTimeZoneOffset', 'an offset is wanted, such as +01:00');
  if (event.eventID !== undefined && !isUriText(event.eventID)) say('/eventID', 'a URI is wanted');
  sayWord(say, '/bizStep', event.bizStep, BIZ_STEPS);
  sayWord(say, '/disposition', event.disposition, DISPOSITIONS);
  sayPlace(say, '/readPoint', event.readPoint);
  sayPlace(say, '/bizLocation', event.bizLocation);
  for (const name of ['epcList', 'childEPCs', 'inputEPCList', 'outputEPCList']) sayUris(say, `/${name}`, event[name]);
  for (const name of ['quantityList', 'childQuantityList', 'inputQuantityList', 'outputQuantityList']) {
    sayQuantities(say, `/${name}`, event[name]);
  }
  if (event.parentID !== undefined && !isUriText(event.parentID)) say('/parentID', 'a URI is wanted');
  sayEach(say, '/bizTransactionList', event.bizTransactionList, (one, at) => {
    if (!isUriText(one.bizTransaction)) say(`${at}/bizTransaction`, 'a URI is wanted');
  });
  for (const kind of ['source', 'destination']) {
    sayEach(say, `/${kind}List`, event[`${kind}List`], (one, at) => {
      if (!isUriText(one[kind])) say(`${at}/${kind}`, 'a URI is wanted');
      if (typeof one.type !== 'string') say(`${at}/type`, 'it is missing');
    });
  }
  saySensors(say, event);
  if (event.errorDeclaration === undefined) return;
  const error = isFields(event.errorDeclaration) ? event.errorDeclaration : {};
  if (!isEpcisTime(error.declarationTime)) say('/errorDeclaration/declarationTime', 'a time with offset is wanted');
  sayWord(say, '/errorDeclaration/reason', error.reason, ERROR_REASONS);
}

const some = (event: Fields, ...names: readonly string[]): boolean =>
  names.some((name) => Array.isArray(event[name]) && event[name].length > 0);

function sayOfType(say: Say, event: Fields): void {
  const { type, action } = event;
  if (type === 'TransformationEvent') {
    if (action !== undefined) say('/action', 'a transformation has none');
    if (event.transformationID !== undefined) return;
    if (!some(event, 'inputEPCList', 'inputQuantityList')) say('', 'what went in is missing');
    if (!some(event, 'outputEPCList', 'outputQuantityList')) say('', 'what came out is missing');
    return;
  }
  if (!ACTIONS.some((one) => one === action)) say('/action', `one of ${ACTIONS.join(', ')} is wanted`);
  if (event.ilmd !== undefined && !(type === 'ObjectEvent' && action === 'ADD')) {
    say('/ilmd', 'master data of a lot comes with its making: ObjectEvent with ADD, or TransformationEvent');
  }
  const children = some(event, 'childEPCs', 'childQuantityList');
  if (type === 'ObjectEvent' && !some(event, 'epcList', 'quantityList', 'sensorElementList')) {
    say('', 'it names nothing: epcList, quantityList or sensorElementList is wanted');
  }
  if (type === 'AggregationEvent' || type === 'AssociationEvent') {
    if (event.parentID === undefined && (type === 'AssociationEvent' || action !== 'OBSERVE'))
      say('/parentID', 'it is missing');
    if (!children && action !== 'DELETE') say('', 'childEPCs or childQuantityList is wanted');
  }
  if (type === 'TransactionEvent' && !some(event, 'bizTransactionList')) say('/bizTransactionList', 'it is missing');
}

/** What is wrong with an event; empty when it keeps the rules. */
export function eventFaults(event: unknown, at: number): Fault[] {
  const faults: Fault[] = [];
  const say: Say = (pointer, detail) => void faults.push({ at, pointer, detail });
  if (!isFields(event)) say('', 'an object is wanted');
  else if (!EVENT_TYPES.some((type) => type === event.type)) say('/type', `one of ${EVENT_TYPES.join(', ')} is wanted`);
  else {
    sayCommon(say, event);
    sayOfType(say, event);
  }
  return faults;
}
