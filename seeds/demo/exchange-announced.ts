/** What a supplier of the demo announced this morning. All numbers are of GS1's demonstration range 952 and invented. */
import { as, type Door } from './door.ts';
import { id, type Story } from './story.ts';

export const KITCHEN_GLN = '9521321000018';
export const BROOK_GLN = '9521141000014';
export const BEEF_SHIN_GTIN = '09524000059109';

/** Two crates of beef that are on the road. */
export function announcements(story: Story): void {
  story.happens(13, '06:20', (at) => capture(story.door, at));
}

function capture(door: Door, at: string): Promise<void> {
  const when = { eventTime: at, eventTimeZoneOffset: '+00:00' };
  const crate = (last: string) => `https://id.gs1.org/00/19521234567890${last}`;
  const beef = (quantity: number) => [
    { epcClass: `https://id.gs1.org/01/${BEEF_SHIN_GTIN}/10/BRK-7811`, quantity, uom: 'KGM' },
  ];
  const packed = (parentID: string, quantity: number) => ({
    type: 'AggregationEvent',
    ...when,
    action: 'ADD',
    bizStep: 'packing',
    parentID,
    childQuantityList: beef(quantity),
  });
  const made = {
    type: 'ObjectEvent',
    ...when,
    action: 'ADD',
    bizStep: 'commissioning',
    quantityList: beef(24),
    ilmd: { 'cbvmda:itemExpirationDate': new Date(Date.parse(at) + 6 * 86_400_000).toISOString().slice(0, 10) },
  };
  const crates = [crate('0013'), crate('0020')] as const;
  const shipped = {
    type: 'ObjectEvent',
    eventID: `urn:uuid:${id('captured-event/brook')}`,
    ...when,
    action: 'OBSERVE',
    bizStep: 'shipping',
    disposition: 'in_transit',
    epcList: crates,
    bizTransactionList: [{ type: 'desadv', bizTransaction: 'https://example.org/despatch-advices/DN-20977' }],
    sourceList: [{ type: 'possessing_party', source: `https://id.gs1.org/417/${BROOK_GLN}` }],
    destinationList: [{ type: 'location', destination: `https://id.gs1.org/414/${KITCHEN_GLN}` }],
  };
  // The shipping event comes first: its place in the document names the delivery.
  return door.capture(as('operations'), id('epcis-capture/brook'), {
    '@context': ['https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld'],
    type: 'EPCISDocument',
    schemaVersion: '2.0',
    creationDate: at,
    epcisBody: { eventList: [shipped, packed(crates[0], 12.5), packed(crates[1], 11.5), made] },
  });
}
