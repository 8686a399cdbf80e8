/** Shapes that several operations of distribution answer. */
import { z } from 'zod';
import { code, instant, lotCode, quantity, serial, signedQuantity, unit, uuid } from '../../platform/http/scalars.ts';
import { FindingBrief } from '../ledger/index.ts';

export const Dispatch = z
  .object({
    dispatchId: uuid,
    code,
    fromSiteId: uuid,
    toSiteId: uuid,
    purpose: z.enum(['delivery', 'return', 'destruction']),
    state: z.enum(['planned', 'departed', 'closed']),
    plannedFor: instant.nullable(),
    departedAt: instant.nullable(),
    vehicle: z.string().nullable(),
    driverName: z.string().nullable(),
    borrowed: z.boolean().meta({ description: 'Entered by the receiver, departure and receipt in one' }),
    refusedFromId: uuid.nullable().meta({ description: 'A leg back: the dispatch that was refused at the door' }),
    lines: z.array(
      z.object({
        lineNo: z.int(),
        lotId: uuid,
        lotCode,
        itemName: z.string(),
        placeId: uuid.nullable().meta({ description: 'null: refused at the door, or borrowed from no place named' }),
        quantity,
        unit,
        serials: z.array(serial),
        crateCode: z.string().nullable(),
        requirementId: uuid.nullable(),
      }),
    ),
    lots: z
      .array(
        z.object({
          lotId: uuid,
          lotCode,
          unit,
          sent: signedQuantity,
          accepted: signedQuantity,
          setAside: signedQuantity.meta({ description: 'Damaged, too warm or come back: in quarantine' }),
          refused: signedQuantity.meta({ description: 'Refused at the door: it stayed on the van' }),
          inTransit: signedQuantity.meta({
            description: 'Sent and not seen yet; below zero: more arrived than was sent',
          }),
          missing: signedQuantity.meta({ description: 'What is still in transit after the receipt was closed' }),
        }),
      )
      .meta({ description: 'Sent against found, by lot; late scans still change it' }),
    version: z.int(),
  })
  .meta({ id: 'Dispatch', description: 'A consignment from one site to another' });

/** A dispatch and what the fact that was recorded shows. */
export const DispatchFacts = Dispatch.extend({ findings: z.array(FindingBrief) }).meta({ id: 'DispatchFacts' });

/** Which packs of a serialised lot. */
export const serials = z
  .array(serial)
  .max(2000)
  .optional()
  .meta({ description: 'Which packs of a serialised lot; as many as the quantity' });
