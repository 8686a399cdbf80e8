/**
 * Where the demo's sites and suppliers are. All invented: telephone numbers from 01632 960000 on, which the United Kingdom keeps free for
 * drama, and post codes that begin with ZZ, which is no post town.
 */
import type { Address } from '../../src/platform/http/address.ts';

const at = (phone: string, street: string, city: string, postalCode: string): Address => ({
  phone: `01632 ${phone}`,
  street,
  city,
  postalCode: `ZZ${postalCode}`,
  country: 'GB',
});

const SITES = {
  ck: at('960001', '1 Kiln Lane', 'Ostermere', '9 1AA'),
  w3: at('960033', 'Fernhollow Hospital, Ward 3, 2 Larch Rise', 'Ostermere', '9 2AB'),
  w7: at('960037', 'Fernhollow Hospital, Ward 7, 2 Larch Rise', 'Ostermere', '9 2AB'),
  w9: at('960039', 'Fernhollow Hospital, Ward 9, 2 Larch Rise', 'Ostermere', '9 2AB'),
  sch: at('960050', '14 Tarn Lane', 'Ostermere', '9 4CD'),
  care: at('960060', '3 Brackenfold Road', 'Nether Ostermere', '9 5EF'),
  hot: at('960070', '1 Selwick Square', 'Selwick', '8 1GH'),
  inn: at('960080', '9 Ford Street', 'Dale Bottom', '7 1QS'),
} as const;

const SUPPLIERS = {
  brook: at('960101', 'Brook Farm, Weir Road', 'Upper Selwick', '8 3JK'),
  linden: at('960102', 'Linden Farm, 6 Cold Lane', 'Selwick', '8 4LM'),
  marl: at('960103', 'Marl Hill', 'Nether Ostermere', '9 6NP'),
  dale: at('960104', 'Dale Bottom Creamery, Ford Street', 'Dale Bottom', '7 1QR'),
  quern: at('960105', 'Quern Mill, 20 Mill Race', 'Selwick', '8 2ST'),
  saffron: at('960106', 'Saffron Yard 5', 'Ostermere', '9 3UV'),
  pantry: at('960107', 'Wold Pantry, Unit 7, Wold Way', 'Woldbridge', '6 5WX'),
} as const;

/** The business that answers for the food. */
export const GROUP_ADDRESS: Address = {
  businessName: 'Ostermere Catering Services',
  ...at('960000', '1 Kiln Lane', 'Ostermere', '9 1AA'),
};

export const addressOfSite = (key: keyof typeof SITES): Address => SITES[key];

export const addressOfSupplier = (key: keyof typeof SUPPLIERS): Address => SUPPLIERS[key];
