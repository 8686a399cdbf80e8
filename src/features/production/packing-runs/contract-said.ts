/** What a packing run says beside its fills: programme, rejects and why, sample seal tests, core temperature before the chamber. */
import { z } from 'zod';
import { REJECT_REASONS } from '../../../domain/process-checks/programmes.ts';
import { line, text, uuid } from '../../../platform/http/scalars.ts';

export const rejectReason = z.enum(REJECT_REASONS);
const packs = z.int().min(1).max(100_000);

/** For both twins of the packing run. */
export const saidOfRun = {
  programme: line(60).optional().meta({ description: 'What the machine was set to, by name; or give programmeId' }),
  programmeId: uuid.optional().meta({ description: 'A packing programme of the group; the run keeps its version' }),
  packsRejected: z.int().min(0).max(100_000).optional().meta({
    description: 'Pouches that did not seal; their food is not lost by that. The sum of rejects, where both are given',
  }),
  rejects: z
    .array(z.strictObject({ reason: rejectReason, packs }))
    .max(REJECT_REASONS.length)
    .optional()
    .meta({ description: 'Why packs were rejected, each reason once' }),
  sealTests: z
    .array(
      z.strictObject({
        tested: packs,
        failed: z.int().min(0).max(100_000),
        note: text(500).optional(),
      }),
    )
    .max(20)
    .optional()
    .meta({ description: 'Sample seal tests of the run; each is kept as a process check' }),
  coreTemperatureC: z.number().min(-60).max(150).optional().meta({
    description: 'Measured before the chamber; kept as a process check',
  }),
  instrumentId: uuid.optional().meta({ description: 'What coreTemperatureC was measured with' }),
};
