/** A crate as it is answered. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import { listCrateLoads, type CrateLoadRow } from './loads.ts';
import { listInside, listOuterCrates } from './nesting.ts';
import { listPlacementsOf, type CrateRow, type PlacementRow } from './store.ts';

const MOST_DISPATCHES = 10;
const MOST_PLACEMENTS = 100;

export const crateHead = ({ siteId, madeAt, ...row }: CrateRow) => ({
  ...row,
  madeAtSiteId: siteId,
  madeAt: madeAt.toISOString(),
});

export const placementAnswer = ({ occurredAt, recordedAt, ...row }: PlacementRow) => ({
  ...row,
  occurredAt: occurredAt.toISOString(),
  recordedAt: recordedAt.toISOString(),
});

/** Where it is by the dispatches that carry it: one that has left says more than one that is planned. */
export function whereIs(crate: Pick<CrateRow, 'siteId'>, loads: readonly CrateLoadRow[]) {
  const left = loads.find((load) => load.departedAt !== null);
  if (left?.state === 'departed') return { state: 'on-the-road' as const, atSiteId: null, toSiteId: left.toSiteId };
  const planned = loads.some((load) => load.state === 'planned');
  const state = planned ? ('planned' as const) : left ? ('delivered' as const) : ('empty' as const);
  const atSiteId = left?.toSiteId ?? crate.siteId;
  return { state, atSiteId, toSiteId: atSiteId };
}

function dispatchesOf(loads: readonly CrateLoadRow[], scope: SiteScope) {
  const byDispatch = new Map<string, CrateLoadRow[]>();
  for (const load of loads) {
    if (!scope.includes(load.fromSiteId) && !scope.includes(load.toSiteId)) continue;
    byDispatch.set(load.dispatchId, [...(byDispatch.get(load.dispatchId) ?? []), load]);
  }
  return Array.from(byDispatch.values())
    .slice(0, MOST_DISPATCHES)
    .flatMap((lines) => {
      const [first] = lines;
      if (!first) return [];
      const { dispatchId, dispatchCode, fromSiteId, toSiteId, state, departedAt } = first;
      return {
        ...{ dispatchId, dispatchCode, fromSiteId, toSiteId, state },
        departedAt: departedAt?.toISOString() ?? null,
        lines: lines.map(({ crateCode, lotId, lotCode, itemName, quantity, unit, serials }) => ({
          ...{ crateCode, lotId, lotCode, itemName, quantity, unit, serials },
        })),
      };
    });
}

export async function crateAnswer(tx: Tx, scope: SiteScope, crate: CrateRow, nowMs: number): Promise<object> {
  const loads = await listCrateLoads(tx, [crate.code]);
  const outer = await listOuterCrates(tx, [{ code: crate.code, atMs: nowMs }]);
  const inside = await listInside(tx, crate.crateId, nowMs);
  const placements = await listPlacementsOf(tx, crate.crateId, MOST_PLACEMENTS);
  const { state, atSiteId } = whereIs(crate, loads);
  return {
    ...crateHead(crate),
    state,
    atSiteId,
    inCrates: outer.map(({ outerCrateId, outerCode }) => ({ crateId: outerCrateId, code: outerCode })),
    inside: inside.map(({ path: _path, ...row }) => row),
    dispatches: dispatchesOf(loads, scope),
    placements: placements.map(placementAnswer),
  };
}
