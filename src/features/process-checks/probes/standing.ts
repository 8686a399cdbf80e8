/** What a thermometer was worth at a moment: asked wherever a check was taken with one. */
import { standingOf, type ProbeStanding } from '../../../domain/process-checks/probes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listLastCalibrations } from './store.ts';

/** `never` for an instrument that nobody has calibrated, or that is none. */
export async function probeStanding(tx: Tx, instrumentId: string, atMs: number): Promise<ProbeStanding> {
  return standingOf(await listLastCalibrations(tx, instrumentId, atMs));
}
