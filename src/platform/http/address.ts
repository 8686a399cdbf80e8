/**
 * Where a business is, as food law describes a location: 21 CFR 1.1310 (business name, phone number, physical address or geographic
 * coordinates, city, state and zip code, or what compares to them abroad) and Regulation (EU) 931/2011 Art. 3 (name and address).
 * Every part may be left out: what is not known stays empty, and is counted as missing where the law asks for it.
 */
import { z } from 'zod';
import { line } from './scalars.ts';

const country = z
  .string()
  .regex(/^[A-Z]{2}$/, 'a country by ISO 3166, such as GB')
  .meta({ example: 'GB' });

export const address = z
  .strictObject({
    businessName: line(200)
      .optional()
      .meta({ description: 'The name that the law means, where it is not the name given above' }),
    phone: line(40).optional().meta({ example: '01632 960001' }),
    street: line(200).optional(),
    city: line(100).optional(),
    region: line(100).optional().meta({ description: 'State, province, county' }),
    postalCode: line(20).optional(),
    country: country.optional(),
    latitude: z
      .number()
      .min(-90)
      .max(90)
      .optional()
      .meta({ description: 'With longitude, in place of a street address' }),
    longitude: z.number().min(-180).max(180).optional(),
  })
  .meta({
    id: 'Address',
    description: 'A location description as in 21 CFR 1.1310; parts that are not known are left out',
  });

export type Address = z.output<typeof address>;
