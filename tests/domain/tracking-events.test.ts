/** Which section of the law asks for what: 21 CFR 1.1340(a), 1.1345(a), 1.1350(a), 1.1310 as published; (EU) 931/2011 Art. 3(1). */
import { describe, expect, test } from 'vitest';
import {
  describeLocation,
  eventKindOf,
  missingOf,
  missingParts,
  packOf,
  type Elements,
} from '../../src/domain/tracking-events.ts';

const whole: Elements = {
  kind: 'departure',
  packSize: '300 g',
  packStyle: 'vacuum pack',
  location: [],
  tlcSource: [],
  previousSource: [],
  recipient: [],
  referenceDocumentType: 'dispatch',
  referenceDocumentNumber: 'D-1',
  dispatchedOn: '2026-11-24',
  inputCount: 1,
};
const lawsOf = (elements: Partial<Elements>) => missingOf({ ...whole, ...elements }).map(({ law }) => law);

describe('what a record lacks', () => {
  test.each(['departure', 'receipt', 'goods-in', 'batch-input', 'batch-output', 'use'] as const)(
    'a whole %s lacks nothing',
    (kind) => expect(missingOf({ ...whole, kind })).toEqual([]),
  );

  test.each([
    ['shipping, 1.1340(a)(3) pack size', { packSize: null }, ['21 CFR 1.1340(a)(3)']],
    ['shipping, (4) no recipient', { recipient: null }, ['21 CFR 1.1340(a)(4); (EU) 931/2011 Art. 3(1)(e)']],
    ['shipping, (5) shipped from', { location: ['phone'] }, ['21 CFR 1.1340(a)(5); (EU) 931/2011 Art. 3(1)(c)']],
    ['shipping, (7) lot code source', { tlcSource: ['city'] }, ['21 CFR 1.1340(a)(7)']],
    ['shipping, (8) document', { referenceDocumentNumber: null }, ['21 CFR 1.1340(a)(8)']],
    [
      'receiving, 1.1345(a)(4)',
      { kind: 'goods-in', previousSource: null },
      ['21 CFR 1.1345(a)(4); (EU) 931/2011 Art. 3(1)(c)'],
    ],
    ['receiving, (5)', { kind: 'receipt', location: ['street'] }, ['21 CFR 1.1345(a)(5); (EU) 931/2011 Art. 3(1)(e)']],
    ['receiving, (7)', { kind: 'receipt', tlcSource: ['phone'] }, ['21 CFR 1.1345(a)(7)']],
    ['receiving, (8)', { kind: 'goods-in', referenceDocumentType: null }, ['21 CFR 1.1345(a)(8)']],
    ['(EU) 931/2011 Art. 3(1)(h)', { kind: 'goods-in', dispatchedOn: null }, ['(EU) 931/2011 Art. 3(1)(h)']],
    [
      'transformation, 1.1350(a)(1) nothing went in',
      { kind: 'packing-output', inputCount: 0 },
      ['21 CFR 1.1350(a)(1)'],
    ],
    ['transformation, (2) where', { kind: 'batch-output', location: ['phone'] }, ['21 CFR 1.1350(a)(2)']],
    ['transformation, an input has no recipient to name', { kind: 'batch-input', recipient: null }, []],
    ['kinds of our own', { kind: 'discard', packSize: null, location: ['phone'] }, []],
  ] as const)('%s', (_what, elements, laws) => expect(lawsOf(elements)).toEqual(laws));
});

describe('location descriptions, 21 CFR 1.1310', () => {
  test('name, telephone, street or coordinates, city, postal code; a state in the United States', () => {
    expect(missingParts(null)).toEqual(['phone', 'street', 'city', 'postalCode', 'country']);
    const here = { phone: '1', city: 'A', postalCode: '2', country: 'GB' };
    expect(missingParts(here)).toEqual(['street']);
    expect(missingParts({ ...here, latitude: 54, longitude: -3 })).toEqual([]);
    expect(missingParts({ ...here, street: 'S', country: 'US' })).toEqual(['region']);
  });

  test('in one line', () => {
    const address = { businessName: 'Oak Ltd', phone: '01632 960001', latitude: 54.5, longitude: -3, country: 'GB' };
    expect(describeLocation('Oak kitchen', address)).toBe('Oak Ltd (Oak kitchen); 01632 960001; 54.5, -3; GB');
    expect(describeLocation('Oak kitchen', null)).toBe('Oak kitchen');
  });
});

describe('what happened', () => {
  test.each([
    ['packing', 'place', 'consumed', 1, 'packing-input'],
    ['packing', 'produced', 'place', 1, 'packing-output'],
    ['conversion', 'place', 'consumed', 1, 'conversion-input'],
    ['dispatch', 'place', 'place', 1, 'departure'],
    ['dispatch', 'transit', 'place', 1, 'refused-at-door'],
    ['return', 'place', 'supplier', 1, 'return-to-supplier'],
    ['return', 'served', 'place', 1, 'return-from-service'],
    ['stock-count', 'place', 'served', 4, 'use-by-count'],
    ['stock-count', 'place', 'variance', 4, 'count-missing'],
    ['stock-count', 'place', 'variance', -4, 'count-found'],
    ['goods-receipt', 'supplier', 'place', 1, 'goods-in'],
    ['opening-stock', 'supplier', 'place', 1, 'opening-stock'],
  ] as const)('%s from %s to %s, %d: %s', (entry, from, to, signed, kind) =>
    expect(eventKindOf(entry, from, to, signed)).toBe(kind),
  );

  test('pack size and style: as said, as sealed, as the kitchen keeps it; else unknown', () => {
    const lot = {
      itemKind: 'ingredient',
      unit: 'g',
      netWeightMg: 1000,
      origin: 'supplied',
      entryUnit: null,
      perEntryUnit: null,
    };
    expect(packOf(lot)).toEqual({ packSize: null, packStyle: null });
    expect(packOf({ ...lot, entryUnit: 'sack', perEntryUnit: 25_000 })).toEqual({
      packSize: '25000 g',
      packStyle: 'sack',
    });
    expect(packOf({ ...lot, origin: 'produced' })).toEqual({ packSize: 'by weight', packStyle: 'bulk' });
    const packed = { ...lot, itemKind: 'packed', unit: 'piece', origin: 'packed', netWeightMg: 2_500_000 };
    expect(packOf(packed)).toEqual({ packSize: '2.5 kg', packStyle: 'vacuum pack' });
  });
});
