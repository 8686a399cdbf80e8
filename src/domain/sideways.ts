/**
 * What shared something with food in a recall, besides what was made from it: the packing machine after raw food, the machine between
 * clean-downs, the packer's shift, a supplier's code that was written a little differently; and what several lots have in common before
 * them. Offered, never added. Refusals: none.
 */
import { carryOvers, type Pass } from './carry-over.ts';

/** One food on a machine, as packs of one lot. */
export interface PackedPass extends Pass {
  readonly lotId: string;
}

export interface AfterRaw {
  readonly runId: string;
  readonly lotIds: readonly string[];
  /** the raw packs that they followed, or that these packs are */
  readonly rawLotIds: readonly string[];
  /** these are the raw packs themselves, sealed before packs in scope */
  readonly isRaw: boolean;
}

/**
 * Runs of one machine that are tied to packs in scope by raw food without a full clean-down between: what was packed after raw packs in scope;
 * and when packs in scope came after raw ones, those and whatever else came after them.
 */
export function afterRaw(
  passes: readonly PackedPass[],
  cleanedAtMs: readonly number[],
  scope: ReadonlySet<string>,
): AfterRaw[] {
  if (!passes.some((pass) => pass.raw)) return [];
  const lotOf = new Map(passes.map((pass) => [pass.key, pass.lotId]));
  const inScope = (pass: Pass) => scope.has(lotOf.get(pass.key) ?? '');
  const found = carryOvers(passes, cleanedAtMs).filter((one) => one.kind === 'raw-before-ready-to-eat');
  const raws = new Set(
    found.flatMap(({ earlier, later }) => (inScope(earlier) || inScope(later) ? [earlier.key] : [])),
  );
  const runs = new Map<string, { lotIds: Set<string>; rawLotIds: Set<string>; isRaw: boolean }>();
  const add = (pass: Pass, raw: Pass) => {
    if (inScope(pass)) return;
    const isRaw = pass.key === raw.key;
    const key = `${pass.runId}|${isRaw}`;
    const run = runs.get(key) ?? { lotIds: new Set<string>(), rawLotIds: new Set<string>(), isRaw };
    run.lotIds.add(lotOf.get(pass.key) ?? '');
    run.rawLotIds.add(lotOf.get(raw.key) ?? '');
    runs.set(key, run);
  };
  for (const { earlier, later } of found) {
    if (!raws.has(earlier.key)) continue;
    add(earlier, earlier);
    add(later, earlier);
  }
  return [...runs].map(([key, run]) => ({
    runId: key.split('|')[0] ?? '',
    lotIds: [...run.lotIds],
    rawLotIds: [...run.rawLotIds],
    isRaw: run.isRaw,
  }));
}

export interface Worked {
  readonly runId: string;
  readonly siteId: string;
  readonly beginsMs: number;
  readonly endsMs: number;
}

/**
 * A pause this long ends a shift: the least rest between two working days (Directive 2003/88/EC Article 3, eleven hours; from memory). A
 * shift shorter than what was worked would leave packs out; a longer one only offers more.
 */
export const SHIFT_PAUSE_MS = 11 * 3_600_000;

/** The stretches of one person's runs at one site in which packs of these runs were sealed. */
export function shiftsOf(runs: readonly Worked[], wanted: ReadonlySet<string>): { fromMs: number; toMs: number }[] {
  const shifts: { fromMs: number; toMs: number; wanted: boolean }[] = [];
  for (const run of [...runs].sort((a, b) => a.beginsMs - b.beginsMs || a.endsMs - b.endsMs)) {
    const last = shifts.at(-1);
    const isWanted = wanted.has(run.runId);
    if (last && run.beginsMs - last.toMs < SHIFT_PAUSE_MS) {
      last.toMs = Math.max(last.toMs, run.endsMs);
      last.wanted ||= isWanted;
    } else shifts.push({ fromMs: run.beginsMs, toMs: run.endsMs, wanted: isWanted });
  }
  return shifts.flatMap(({ fromMs, toMs, wanted: is }) => (is ? [{ fromMs, toMs }] : []));
}

/** As a supplier's code is compared: capitals, letters and digits only. */
export const codeKey = (code: string): string => code.toUpperCase().replaceAll(/[^\p{L}\p{N}]/gu, '');

/** Signs that are taken for each other on labels and paper (common practice). */
const LOOKS_LIKE: Readonly<Record<string, string>> = { O: '0', Q: '0', I: '1', L: '1', Z: '2', S: '5', B: '8', G: '6' };
const looks = (key: string): string => [...key].map((sign) => LOOKS_LIKE[sign] ?? sign).join('');

/**
 * Whether one code may be the other, written down wrongly: signs that look alike, two neighbours swapped, one sign left out or doubled, or one
 * letter for another. One digit for another is not: suppliers count their lots up, and the next number is the next lot.
 */
export function nearlySameCode(one: string, other: string): boolean {
  const a = looks(codeKey(one));
  const b = looks(codeKey(other));
  if (a === b) return a !== '';
  if (Math.min(a.length, b.length) < 4 || Math.abs(a.length - b.length) > 1) return false;
  let same = 0;
  while (same < a.length && a[same] === b[same]) same += 1;
  if (a.length === b.length) {
    const swapped = a[same] === b[same + 1] && a[same + 1] === b[same] && a.slice(same + 2) === b.slice(same + 2);
    const bothDigits = /^\d\d$/.test(`${a[same]}${b[same]}`);
    return swapped || (!bothDigits && a.slice(same + 1) === b.slice(same + 1));
  }
  const [short, long] = a.length < b.length ? [a, b] : [b, a];
  return short.slice(same) === long.slice(same + 1);
}

export interface CauseEdge {
  readonly parentLotId: string;
  readonly childLotId: string;
  readonly processId: string;
}

/** A lot or a process, and how far before the lots it stands: of several ways to a lot the shortest, of several lots the furthest. */
export interface SharedCause {
  readonly id: string;
  readonly isProcess: boolean;
  readonly steps: number;
}

/**
 * What all of these lots have before them, nearest first. A process stands one step before what came out of it, and its inputs at that same
 * step after it in the list. The lots themselves are among it where one of them went into all the others.
 */
export function commonCauses(lotIds: readonly string[], edges: readonly CauseEdge[]): SharedCause[] {
  const into = new Map<string, CauseEdge[]>();
  for (const edge of edges) {
    const list = into.get(edge.childLotId);
    if (list) list.push(edge);
    else into.set(edge.childLotId, [edge]);
  }
  const roots = [...new Set(lotIds)];
  const seen = new Map<string, { count: number; steps: number; isProcess: boolean }>();
  for (const root of roots) {
    const steps = new Map([[root, 0]]);
    const processes = new Map<string, number>();
    for (const [lotId, step] of steps) {
      for (const edge of into.get(lotId) ?? []) {
        if (!processes.has(edge.processId)) processes.set(edge.processId, step + 1);
        if (!steps.has(edge.parentLotId)) steps.set(edge.parentLotId, step + 1);
      }
    }
    // One lot alone is asked what is before it, not about itself.
    if (roots.length === 1) steps.delete(root);
    const note = (isProcess: boolean) => (step: number, id: string) => {
      const one = seen.get(id) ?? { count: 0, steps: 0, isProcess };
      seen.set(id, { isProcess, count: one.count + 1, steps: Math.max(one.steps, step) });
    };
    steps.forEach(note(false));
    processes.forEach(note(true));
  }
  return [...seen]
    .filter(([, one]) => one.count === roots.length)
    .map(([id, { steps, isProcess }]) => ({ id, steps, isProcess }))
    .sort((a, b) => a.steps - b.steps || Number(b.isProcess) - Number(a.isProcess) || (a.id < b.id ? -1 : 1));
}
