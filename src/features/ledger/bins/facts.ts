/** What is known of one item in one bin, as the domain walks it. Refusals: none. */
import { walkBin, type BinFacts, type BinState, type BinTaking, type Taken } from '../../../domain/ledger/bins.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { derivedId } from '../../../platform/ids.ts';
import { findLastEmpty, listBinCounts, listBinInputs, listBinMoves, type BinInputRow, type BinRef } from './store.ts';

/** Stands for what was taken while nothing is known to have been in. */
export const unknownLotId = (bin: BinRef): string => derivedId(`bin-unknown-${bin.placeId}`, bin.itemId);

export interface BinKnown {
  readonly facts: BinFacts;
  readonly inputs: readonly BinInputRow[];
}

/** @param fromMs what happened from then on has to be right; it is read from when the bin was last seen empty before it */
export async function loadBin(tx: Tx, bin: BinRef, fromMs: number): Promise<BinKnown> {
  const afterMs = (await findLastEmpty(tx, bin, fromMs)) ?? 0;
  const moves = await listBinMoves(tx, bin, afterMs);
  const counts = await listBinCounts(tx, bin, afterMs);
  const inputs = await listBinInputs(tx, bin, afterMs);
  return { facts: { moves, counts, takings: inputs }, inputs };
}

/** What a taking would take, and how much of it could be taken by the book. */
export async function previewTaking(tx: Tx, bin: BinRef, taking: BinTaking): Promise<Taken & { available: number }> {
  const { facts } = await loadBin(tx, bin, taking.atMs);
  const { now } = walkBin(facts, unknownLotId(bin));
  const after = walkBin({ ...facts, takings: [...facts.takings, taking] }, unknownLotId(bin));
  const taken = after.taken.get(taking.inputId);
  if (!taken) throw new Error(`taking ${taking.inputId} was not walked`);
  // What is there now counts as well: later takings must not come short by an earlier one.
  const available = Math.max(0, Math.min(taking.quantity - taken.missing, now.quantity));
  return { ...taken, available };
}

export async function readBinState(tx: Tx, bin: BinRef, nowMs: number): Promise<BinState & { inputs: BinInputRow[] }> {
  const { facts, inputs } = await loadBin(tx, bin, nowMs + 1);
  const { now } = walkBin(facts, unknownLotId(bin));
  const since = now.sinceMs;
  return { ...now, inputs: since === null ? [] : inputs.filter((input) => input.atMs >= since) };
}
