/** What each condition of a query means on the rows of epcis_event (e). Values are always parameters; only names from these tables are text. */
import type { Condition, TextField, ThingList, TimeField } from '../../../domain/epcis/query.ts';

/** Adds a value and answers its place, `$4`. */
type Place = (value: unknown) => string;

const SCALARS: Readonly<Partial<Record<TextField, string>>> = {
  type: 'e.type',
  action: 'e.action',
  bizStep: 'e.biz_step',
  disposition: 'e.disposition',
  readPoint: 'e.read_point',
  bizLocation: 'e.biz_location',
  transformationID: 'e.transformation_id',
  eventID: 'e.event_id',
  errorReason: 'e.error_reason',
};
const ARRAYS: Readonly<Partial<Record<TextField, string>>> = {
  persistentDisposition_set: 'e.dispositions_set',
  persistentDisposition_unset: 'e.dispositions_unset',
  correctiveEventID: 'e.corrective_event_ids',
};
const TIMES: Readonly<Partial<Record<TimeField, string>>> = {
  eventTime: 'e.event_time',
  recordTime: 'e.record_time',
  errorDeclarationTime: 'e.error_declared_at',
};
const THINGS: Readonly<Record<ThingList, string>> = {
  epcs: 'e.epcs',
  parent: 'array_remove(array[e.parent], null)',
  inputEpcs: 'e.input_epcs',
  outputEpcs: 'e.output_epcs',
  classes: 'e.classes',
  inputClasses: 'e.input_classes',
  outputClasses: 'e.output_classes',
};
/** As it is indexed; the parent is not in it. */
const ALL_THINGS = '(e.epcs || e.input_epcs || e.output_epcs || e.classes || e.input_classes || e.output_classes)';

const elements = `jsonb_array_elements(coalesce(e.body -> 'sensorElementList', '[]'::jsonb)) s(element)`;
/** Attributes stand at the report or at the metadata of its element. */
const reports = `${elements}, jsonb_array_elements(coalesce(s.element -> 'sensorReport', '[]'::jsonb)) r(report)`;
const quantities = `unnest(array['quantityList', 'childQuantityList', 'inputQuantityList', 'outputQuantityList']) k(list),
  jsonb_array_elements(coalesce(e.body -> k.list, '[]'::jsonb)) q(element)`;

/** `*` is any characters but a slash; the rest stands for itself. */
function patternOf(glob: string): string {
  const parts = glob.split('*').map((part) => part.replaceAll(/[\\^$.|?*+()[\]{}]/g, '\\$&'));
  return `^${parts.join('[^/]*')}$`;
}

function thingsSql(lists: readonly ThingList[], patterns: readonly string[], place: Place): string {
  const exact = patterns.filter((one) => !one.includes('*'));
  const globs = patterns.filter((one) => one.includes('*')).map(patternOf);
  const ways: string[] = [];
  if (exact.length > 0) {
    const at = `${place(exact)}::text[]`;
    const here = lists.filter((list) => list !== 'parent').map((list) => `${THINGS[list]} && ${at}`);
    if (here.length > 0) ways.push(`(${ALL_THINGS} && ${at} and (${here.join(' or ')}))`);
    if (lists.includes('parent')) ways.push(`e.parent = any(${at})`);
  }
  if (globs.length > 0) {
    const all = lists.map((list) => THINGS[list]).join(' || ');
    ways.push(`exists (select 1 from unnest(${all}) u(uri) where u.uri ~ any(${place(globs)}::text[]))`);
  }
  return `(${ways.join(' or ')})`;
}

function sqlOf(condition: Condition, place: Place): string {
  switch (condition.kind) {
    case 'text': {
      const array = ARRAYS[condition.field];
      const at = `${place(condition.values)}::text[]`;
      return array ? `${array} && ${at}` : `${SCALARS[condition.field]} = any(${at})`;
    }
    case 'within': {
      const column = SCALARS[condition.field];
      return `exists (select 1 from unnest(${place(condition.values)}::text[]) p(uri)
        where ${column} = p.uri or starts_with(${column}, p.uri || '/'))`;
    }
    case 'time': {
      const at = `to_timestamp(${place(condition.atMs)}::float8 / 1000)`;
      const column = TIMES[condition.field];
      if (column) return `${column} ${condition.op} ${at}`;
      const name = place(condition.field);
      return `exists (select 1 from ${elements}
        where (s.element -> 'sensorMetadata' ->> ${name}::text)::timestamptz ${condition.op} ${at})`;
    }
    case 'things':
      return thingsSql(condition.lists, condition.patterns, place);
    case 'quantity':
      return `exists (select 1 from ${quantities}
        where (q.element ->> 'quantity')::numeric ${condition.op} ${place(condition.value)}::numeric)`;
    case 'error-declared':
      return 'e.error_declared_at is not null';
    case 'sensor-there':
      return `e.body ? 'sensorElementList'`;
    case 'typed':
      return `exists (select 1 from jsonb_array_elements(coalesce(e.body -> ${place(`${condition.list}List`)}::text, '[]'::jsonb)) x(element)
        where x.element ->> 'type' = ${place(condition.type)}::text
          and x.element ->> ${place(condition.list)}::text = any(${place(condition.values)}::text[]))`;
    case 'sensor-text': {
      const name = `${place(condition.attribute)}::text`;
      return `exists (select 1 from ${reports}
        where coalesce(r.report ->> ${name}, s.element -> 'sensorMetadata' ->> ${name}) = any(${place(condition.values)}::text[]))`;
    }
    case 'sensor-boolean':
      return `exists (select 1 from ${reports} where r.report ->> 'booleanValue' = ${place(String(condition.value))}::text)`;
    case 'sensor-number':
      return `exists (select 1 from ${reports}
        join jsonb_to_recordset(${place(JSON.stringify(condition.amounts))}::jsonb) as a(uom text, value numeric)
          on a.uom = r.report ->> 'uom'
        where (r.report ->> ${place(condition.attribute)}::text)::numeric ${condition.op} a.value)`;
    case 'own-field': {
      const of = condition.where === 'ilmd' ? `(e.body -> 'ilmd')` : 'e.body';
      const name = `${place(condition.name)}::text`;
      if (condition.values === null) return `${of} ? ${name}`;
      return `${of} ->> ${name} = any(${place(condition.values)}::text[])`;
    }
  }
}

/**
 * The conditions, each in its own row, and their values.
 * @param first the values that come before
 */
export function whereOf(
  conditions: readonly Condition[],
  first: readonly unknown[],
): { readonly sql: string; readonly values: unknown[] } {
  const values = [...first];
  const place: Place = (value) => `$${values.push(value)}`;
  return { sql: conditions.map((condition) => `\n        and ${sqlOf(condition, place)}`).join(''), values };
}
