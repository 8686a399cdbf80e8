/**
 * Parameters of the EPCIS query interface. The vectors are facts read from GS1's OpenAPI file (gs1/EPCIS, 2.0.0); they are test data beside
 * the repository and are skipped, aloud, where they are not there.
 */
import { existsSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, test } from 'vitest';
import { Refused } from '../../src/domain/errors.ts';
import { namedBy, toDigitalLink } from '../../src/domain/epcis/query-uris.ts';
import { readQuery } from '../../src/domain/epcis/query.ts';

interface Vector {
  readonly kind: string;
  readonly title: string;
  readonly input: string;
  readonly expected: { readonly status: number };
}
const standards = path.resolve(import.meta.dirname, '../../../shared/reference/standards');
const there = existsSync(path.join(standards, 'vectors.json'));
const vectors = there
  ? (JSON.parse(readFileSync(path.join(standards, 'vectors.json'), 'utf8')) as Vector[]).filter(
      // What is about an answer, not about a parameter, is in the tests of the exchange.
      ({ kind, input }) => kind === 'epcis.rest' && /^\?\S+$/.test(input),
    )
  : [];

const ask = (search: string) => readQuery(Object.fromEntries(new URLSearchParams(search)));
const refusal = (search: string) => {
  try {
    ask(search);
  } catch (error) {
    return error instanceof Refused ? error : null;
  }
  return null;
};

describe.skipIf(!there)('what GS1 says of parameters', () => {
  console.log(there ? `${vectors.length} vectors of kind epcis.rest` : 'epcis.rest: no vectors here, skipped');

  test.each(vectors)('$title', ({ input, expected }) => {
    // U stands for a URI in the vector.
    const code = refusal(input.replace('=U', '=https://id.gs1.org/00/195212345678900014'))?.code ?? null;
    expect(code).toBe(expected.status === 400 ? 'epcis-query-invalid' : null);
  });

  test('every parameter with a fixed name is either carried out or refused by name, none is ignored', () => {
    const api = JSON.parse(readFileSync(path.join(standards, 'epcis/rest/openapi.json'), 'utf8'));
    const fits: Record<string, string> = {
      eventType: 'ObjectEvent',
      EQ_action: 'ADD',
      EQ_bizStep: 'shipping',
      EQ_disposition: 'in_transit',
      EQ_persistentDisposition_set: 'recalled',
      EQ_persistentDisposition_unset: 'recalled',
      EQ_errorReason: 'did_not_occur',
    };
    const forms: Record<string, string> = { 'date-time': '2026-11-25T06:00:00Z', boolean: 'true', number: '5' };
    interface Parameter {
      readonly name: string;
      readonly in: string;
      readonly schema: { readonly type?: string; readonly format?: string };
    }
    const all = Object.values<Parameter>(api.components.parameters);
    const ours = all.filter(({ name, in: where }) => where === 'query' && /^([A-Z]+_|eventType)/.test(name));
    expect(ours.length).toBeGreaterThan(45);
    for (const { name, schema } of ours) {
      const value =
        fits[name] ?? forms[schema.format ?? schema.type ?? ''] ?? 'https://id.gs1.org/00/195212345678900014';
      expect(ask(`${name}=${value}`).conditions, name).toHaveLength(1);
    }
  });
});

describe('the parameters', () => {
  test('a list by pipes is alternatives; a plus that became a blank is a plus', () => {
    const search = 'EQ_bizStep=shipping|receiving&GE_eventTime=2026-11-25T06:00:00+01:00';
    expect(ask(search).conditions).toEqual([
      { kind: 'text', field: 'bizStep', values: ['shipping', 'receiving'] },
      { kind: 'time', field: 'eventTime', op: '>=', atMs: Date.UTC(2026, 10, 25, 5) },
    ]);
  });

  test.each([
    ['eventtype=ObjectEvent', 'eventtype'],
    ['EQ_bizstep=shipping', 'EQ_bizstep'],
    ['EQ_INNER_ex:field=1', 'EQ_INNER_ex:field'],
    ['HASATTR_ex:field=a', 'HASATTR_ex:field'],
    ['EQ_bizStep=transforming', 'EQ_bizStep'],
    ['EQ_action=observe', 'EQ_action'],
    ['EQ_bizStep=shipping||receiving', 'EQ_bizStep'],
    ['GE_eventTime=2026-11-25', 'GE_eventTime'],
    ['GE_eventTime=2026-02-30T10:00:00Z', 'GE_eventTime'],
    ['GE_eventTime=2026-11-25T06:00:00', 'GE_eventTime'],
    ['MATCH_epc=LOT 7', 'MATCH_epc'],
    ['MATCH_epc=urn:epc:id:sgtin:0614141.107346', 'MATCH_epc'],
    ['GT_quantity=many', 'GT_quantity'],
    ['EXISTS_errorDeclaration=yes', 'EXISTS_errorDeclaration'],
    ['perPage=0', 'perPage'],
    ['constructor=1', 'constructor'],
  ])('%s is refused by its name', (search, name) => {
    expect(refusal(search)?.more.errors?.[0]?.pointer).toBe(`#/query/${name}`);
  });

  test('a word of the vocabulary may be written out', () => {
    const asked = 'EQ_bizStep=https://ref.gs1.org/cbv/BizStep-shipping|urn:epcglobal:cbv:bizstep:receiving';
    expect(ask(asked).conditions).toEqual([{ kind: 'text', field: 'bizStep', values: ['shipping', 'receiving'] }]);
  });

  test('a temperature is looked for in every unit that it may be said in', () => {
    // 5 °C = 278.15 K = 41 °F by definition of the scales.
    const amounts = [
      { uom: 'CEL', value: 5 },
      { uom: 'KEL', value: 278.15 },
      { uom: 'FAH', value: 41 },
    ];
    expect(ask('GT_value_CEL=5').conditions[0]).toMatchObject({ op: '>', amounts });
    expect(ask('GT_value_FAH=41').conditions[0]).toMatchObject({ amounts });
  });
});

describe('names of things', () => {
  // The lots are pairs of the same thing in GS1's Example_9.6.4, plain and WithDigitalLinkID. SGTIN and SSCC are from memory of the Tag Data
  // Standard; the SGLN's check digit by hand: 3·8+8+3·8+0+0+1+3·4+1+3·4+1+3·6+0 = 101, so 9.
  test.each([
    ['urn:epc:id:sgtin:0614141.107346.2017', 'https://id.gs1.org/01/10614141073464/21/2017'],
    ['urn:epc:id:sscc:0614141.1234567890', 'https://id.gs1.org/00/106141412345678908'],
    ['urn:epc:id:sgln:0614141.07346.1234', 'https://id.gs1.org/414/0614141073467/254/1234'],
    ['urn:epc:id:sgln:0614141.00888.0', 'https://id.gs1.org/414/0614141008889'],
    ['urn:epc:class:lgtin:0614141.077777.987', 'https://id.gs1.org/01/00614141777778/10/987'],
    ['urn:epc:class:lgtin:4012345.012345.998877', 'https://id.gs1.org/01/04012345123456/10/998877'],
    ['https://example.org/lot/7', 'https://example.org/lot/7'],
  ])('%s', (urn, link) => {
    expect(toDigitalLink(urn)).toBe(link);
  });

  test('the parts of a Digital Link, in any stem, decoded', () => {
    expect([...namedBy('https://example.org/some/stem/01/09521234543213/10/A%2F1/21/7?17=261231')]).toEqual([
      ['01', '09521234543213'],
      ['10', 'A/1'],
      ['21', '7'],
    ]);
    expect(namedBy('urn:uuid:f81d4fae-7dec-11d0-a765-00a0c91e6bf6').size).toBe(0);
  });
});
