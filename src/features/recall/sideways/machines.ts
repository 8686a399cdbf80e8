/** Suggestions from packing machines and packers. Refusals: none. */
import { afterRaw, shiftsOf, SHIFT_PAUSE_MS, type PackedPass } from '../../../domain/sideways.ts';
import { utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Draft, Found } from './found.ts';
import {
  listPackerRuns,
  listPersonLots,
  listScopeRuns,
  listWindowPasses,
  type MachineWindow,
  type ScopeRunRow,
  type WindowPassRow,
} from './store-machines.ts';

/** Runs looked at, the latest first; passes and runs read with them. */
const MOST_RUNS = 50;
const MOST_PASSES = 5_000;
/** Without a clean-down on record it is looked so far; machines are cleaned daily (common practice), records of it are kept less often. */
const UNCLEANED_MS = 3 * 86_400_000;
/** Longer than any shift; what a person did within it is put together to shifts. */
const AROUND_MS = 24 * 3_600_000 + SHIFT_PAUSE_MS;
const SECOND_MS = 1_000;

interface NamedWindow extends MachineWindow {
  readonly equipmentName: string;
  readonly cleanedBefore: boolean;
  readonly cleanedAfter: boolean;
}

function windowsOf(runs: readonly ScopeRunRow[]): NamedWindow[] {
  const windows = new Map<string, NamedWindow>();
  for (const run of runs) {
    const fromMs = Math.max(run.cleanedBeforeMs ?? 0, run.startedAtMs - UNCLEANED_MS);
    const toMs = Math.min(run.cleanedAfterMs ?? Infinity, run.finishedAtMs + UNCLEANED_MS);
    const cleanedBefore = fromMs === run.cleanedBeforeMs;
    const cleanedAfter = toMs === run.cleanedAfterMs;
    const key = `${run.equipmentId}|${cleanedBefore ? fromMs : ''}|${cleanedAfter ? toMs : ''}`;
    const known = windows.get(key);
    windows.set(key, {
      equipmentId: run.equipmentId,
      equipmentName: run.equipmentName,
      fromMs: Math.min(known?.fromMs ?? Infinity, fromMs),
      toMs: Math.max(known?.toMs ?? 0, toMs),
      cleanedBefore,
      cleanedAfter,
    });
  }
  return [...windows.values()];
}

/** A food is on the machine until the run changes over to the next, or ends. */
function passesOf(rows: readonly WindowPassRow[]): PackedPass[] {
  const changes = new Map<string, number[]>();
  for (const { packingRunId, changedOverAtMs } of rows) {
    changes.set(packingRunId, [...(changes.get(packingRunId) ?? []), changedOverAtMs]);
  }
  return rows.map((row) => {
    const next = (changes.get(row.packingRunId) ?? []).filter((atMs) => atMs > row.changedOverAtMs);
    return {
      key: `${row.packingRunId}:${String(row.lineNo).padStart(4, '0')}`,
      runId: row.packingRunId,
      lotId: row.lotId,
      beginsMs: row.changedOverAtMs,
      endsMs: Math.min(row.finishedAtMs, ...next),
      allergens: [],
      raw: row.raw,
    };
  });
}

const until = ({ cleanedBefore, cleanedAfter }: NamedWindow): string => {
  if (cleanedBefore && cleanedAfter) return 'between two full clean-downs';
  const days = UNCLEANED_MS / 86_400_000;
  if (!cleanedBefore && !cleanedAfter)
    return `with no full clean-down on record (looked at ${days} days before and after)`;
  return cleanedBefore
    ? `since a full clean-down (none on record after it; looked at ${days} days)`
    : `before a full clean-down (none on record before it; looked at ${days} days)`;
};

function afterRawDrafts(window: NamedWindow, passes: readonly PackedPass[], scope: ReadonlySet<string>): Draft[] {
  return afterRaw(passes, [], scope).map(({ runId, lotIds, isRaw, rawLotIds }) => {
    const inScope = rawLotIds.some((lotId) => scope.has(lotId));
    const followed = inScope ? 'raw packs in scope' : 'the same raw packs as packs in scope';
    const what = isRaw ? 'Raw packs, sealed before ready-to-eat packs in scope' : `Sealed after ${followed}`;
    return {
      kind: 'packer-after-raw',
      whyText: `${what} on ${window.equipmentName}, with no full clean-down between.`,
      lotIds,
      start: { kind: 'packing-run', packingRunId: runId },
    };
  });
}

export async function machineSuggestions(tx: Tx, lotIds: readonly string[]): Promise<Found> {
  const scope = new Set(lotIds);
  const runs = await listScopeRuns(tx, lotIds, MOST_RUNS + 1);
  const windows = windowsOf(runs.slice(0, MOST_RUNS));
  const rows = await listWindowPasses(tx, windows, MOST_PASSES + 1);
  const drafts = windows.flatMap((window, at): Draft[] => {
    const passes = passesOf(rows.slice(0, MOST_PASSES).filter((row) => row.at === at));
    const shared: Draft = {
      kind: 'same-machine',
      whyText: `Sealed on ${window.equipmentName} as packs in scope were, ${until(window)}.`,
      lotIds: passes.map((pass) => pass.lotId),
      start: {
        kind: 'machine-period',
        equipmentId: window.equipmentId,
        from: utc(window.fromMs),
        to: utc(window.toMs),
      },
    };
    return [...afterRawDrafts(window, passes, scope), shared];
  });
  const cut = runs.length > MOST_RUNS || rows.length > MOST_PASSES;
  const packers = await packerSuggestions(tx, runs.slice(0, MOST_RUNS));
  return {
    drafts: [...drafts, ...packers.drafts],
    cutShort: [...(cut ? (['packer-after-raw', 'same-machine'] as const) : []), ...packers.cutShort],
  };
}

async function packerSuggestions(tx: Tx, runs: readonly ScopeRunRow[]): Promise<Found> {
  if (runs.length === 0) return { drafts: [], cutShort: [] };
  const names = new Map(runs.map((run) => [run.packerId, run.packerName]));
  const fromMs = Math.min(...runs.map((run) => run.startedAtMs)) - AROUND_MS;
  const toMs = Math.max(...runs.map((run) => run.finishedAtMs)) + AROUND_MS;
  const worked = await listPackerRuns(tx, [...names.keys()], fromMs, toMs, MOST_PASSES + 1);
  const wanted = new Set(runs.map((run) => run.packingRunId));
  const sites = [...new Set(runs.map((run) => run.siteId))];
  const shifts = [...names].flatMap(([personId, name]) =>
    sites.flatMap((siteId) => {
      const own = worked
        .filter((run) => run.packerId === personId && run.siteId === siteId)
        .map((run) => ({ runId: run.packingRunId, siteId, beginsMs: run.startedAtMs, endsMs: run.finishedAtMs }));
      return shiftsOf(own, wanted).map((shift) => ({ personId, name, ...shift, toMs: shift.toMs + SECOND_MS }));
    }),
  );
  const rows = await listPersonLots(tx, shifts);
  const drafts = shifts.map(({ personId, name, ...shift }, at): Draft => ({
    kind: 'packer-shift',
    whyText:
      `Packed by ${name}, who packed packs in scope, or taken in or out of a batch by the same person in that shift ` +
      '(a pause of eleven hours ends one).',
    lotIds: rows.filter((row) => row.at === at).map((row) => row.lotId),
    start: { kind: 'person-period', personId, from: utc(shift.fromMs), to: utc(shift.toMs) },
  }));
  return { drafts, cutShort: worked.length > MOST_PASSES ? ['packer-shift'] : [] };
}
