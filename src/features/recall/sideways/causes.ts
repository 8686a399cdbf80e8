/** What several lots have in common before them. Refusals: none. */
import { commonCauses, type SharedCause as Cause } from '../../../domain/sideways.ts';
import { utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listWithAncestors } from '../../ledger/index.ts';
import { listEdgesInto } from '../store-flows.ts';
import type { SharedCauseAnswer } from './shapes.ts';
import { findLotBriefs, type LotBriefRow } from '../queries.ts';
import { listCauseProcesses, type CauseProcessRow } from './store-causes.ts';

/** More are not a handful of complaints but a scope, whose cause is its starting point. */
const MOST_LOTS = 50;
const MOST_ANCESTORS = 20_000;
const SHOWN = 50;

/**
 * @param lotIds the lots that were complained about; of one alone, everything before it
 * @returns nearest first, up to 50; empty beyond 50 lots, or 20,000 before them
 */
export async function sharedCauses(tx: Tx, lotIds: readonly string[]): Promise<SharedCauseAnswer[]> {
  if (lotIds.length === 0 || lotIds.length > MOST_LOTS) return [];
  const all = await listWithAncestors(tx, lotIds, MOST_ANCESTORS + 1);
  if (all.length > MOST_ANCESTORS) return [];
  const edges = await listEdgesInto(tx, all);
  const processes = await listCauseProcesses(tx, [...new Set(edges.map((edge) => edge.processId))]);
  const causes = commonCauses(lotIds, edges);
  const nearest = causes.slice(0, 4 * SHOWN);
  const lots = await findLotBriefs(
    tx,
    nearest.flatMap((cause) => (cause.isProcess ? [] : [cause.id])),
  );
  const told = nearest.flatMap((cause) => {
    const process = processes.get(cause.id);
    if (cause.isProcess) return process ? [processCause(cause, process)] : [];
    const lot = lots.get(cause.id);
    return lot && lot.origin !== 'pseudo' ? [lotCause(cause, lot)] : [];
  });
  const shared = [...told, ...sharedBesides(lotIds, edges, processes)];
  return shared.sort((a, b) => a.steps - b.steps).slice(0, SHOWN);
}

function lotCause({ id, steps }: Cause, lot: LotBriefRow): SharedCauseAnswer {
  const bought = lot.origin === 'supplied';
  const from = lot.supplierName === null ? '' : ` from ${lot.supplierName}`;
  const code = lot.supplierLotCode === null ? '' : `, their code ${lot.supplierLotCode}`;
  return {
    kind: bought ? 'supplier-lot' : 'lot',
    id,
    text: `${lot.itemName}, lot ${lot.lotCode}${from}${code}`,
    steps,
    start: { kind: 'lot', lotId: id },
  };
}

function processCause({ id, steps }: Cause, process: CauseProcessRow): SharedCauseAnswer {
  if (process.kind === 'batch') {
    return { kind: 'batch', id, text: `Batch ${process.code}`, steps, start: { kind: 'batch', batchId: id } };
  }
  if (process.kind === 'conversion') {
    return { kind: 'conversion', id, text: `${process.code} at ${process.siteName}`, steps, start: null };
  }
  const by = process.packerName === null ? '' : ` by ${process.packerName}`;
  return {
    kind: 'packing-run',
    id,
    text: `Packing run of batch ${process.code} on ${process.equipmentName ?? ''}${by}`,
    steps,
    start: { kind: 'packing-run', packingRunId: id },
  };
}

/** A machine or a packer by which all of them went, though in different runs; the period is that of those runs. */
function sharedBesides(
  lotIds: readonly string[],
  edges: Parameters<typeof commonCauses>[1],
  processes: ReadonlyMap<string, CauseProcessRow>,
): SharedCauseAnswer[] {
  const roots = [...new Set(lotIds)];
  if (roots.length < 2) return [];
  const runs = roots.map((root) =>
    commonCauses([root], edges).flatMap(({ id, isProcess, steps }) => {
      const process = isProcess ? processes.get(id) : undefined;
      return process?.kind === 'packing-run' ? [{ process, steps }] : [];
    }),
  );
  const sharedBy = (idOf: (process: CauseProcessRow) => string | null) => {
    const ids = new Set(runs[0]?.flatMap((run) => idOf(run.process) ?? []));
    return [...ids].flatMap((id) => {
      const own = runs.map((list) => list.filter((run) => idOf(run.process) === id));
      // The same run is told already.
      const runIds = new Set(own.flatMap((list) => list.map((run) => run.process.processId)));
      if (own.some((list) => list.length === 0) || runIds.size < 2) return [];
      const every = own.flat().map((run) => run.process);
      return [
        {
          id,
          process: every[0] as CauseProcessRow,
          steps: Math.max(...own.map((list) => Math.min(...list.map((run) => run.steps)))),
          from: utc(Math.min(...every.map((process) => process.startedAtMs ?? 0))),
          to: utc(Math.max(...every.map((process) => process.finishedAtMs ?? 0)) + 1),
        },
      ];
    });
  };
  const machines = sharedBy((process) => process.equipmentId).map(
    ({ id, process, steps, from, to }): SharedCauseAnswer => ({
      kind: 'machine',
      id,
      text: `${process.equipmentName ?? ''} at ${process.siteName}, in different runs`,
      steps,
      start: { kind: 'machine-period', equipmentId: id, from, to },
    }),
  );
  const packers = sharedBy((process) => process.packerId).map(
    ({ id, process, steps, from, to }): SharedCauseAnswer => ({
      kind: 'packer',
      id,
      text: `Packed by ${process.packerName ?? ''}, in different runs`,
      steps,
      start: { kind: 'person-period', personId: id, from, to },
    }),
  );
  return [...machines, ...packers];
}
