/**
 * Starting points of a recall as they are kept: with the ids of what they name, so that the same point said in other words is the same
 * point. Refusal: `rule-broken`.
 */
import { Refused } from '../errors.ts';

type StartKind =
  | 'lot'
  | 'supplier-lot'
  | 'supplier-period'
  | 'item-period'
  | 'batch'
  | 'packing-run'
  | 'machine-period'
  | 'person-period'
  | 'place-period'
  | 'dispatch'
  | 'excursion'
  | 'undeclared-allergen'
  | 'complaint'
  | 'likely-swap';

/** A starting point with its ids; what else was said (note, walk) stands beside them. */
export interface SaidStart {
  readonly kind: StartKind;
  readonly walk?: 'forward' | 'none' | undefined;
  readonly [field: string]: unknown;
}

/** What tells two points of a kind apart. Times are compared as moments, codes of suppliers by their key. */
const NAMED_BY: Readonly<Record<StartKind, readonly string[]>> = {
  lot: ['lotId'],
  'supplier-lot': ['supplierId', 'shopName', 'supplierLotKey'],
  'supplier-period': ['supplierId', 'from', 'to'],
  'item-period': ['itemId', 'from', 'to'],
  batch: ['batchId'],
  'packing-run': ['packingRunId'],
  'machine-period': ['equipmentId', 'from', 'to', 'sinceCleanDown'],
  'person-period': ['personId', 'from', 'to'],
  'place-period': ['placeId', 'from', 'to'],
  dispatch: ['dispatchId'],
  excursion: ['excursionId'],
  'undeclared-allergen': ['allergen', 'itemId', 'from', 'to'],
  complaint: ['lotId'],
  'likely-swap': ['lotId'],
};

const TIMES: ReadonlySet<string> = new Set(['from', 'to', 'sinceCleanDown']);

/** One text for one point. */
function pointOf(start: SaidStart): string {
  const parts = NAMED_BY[start.kind].map((field) => {
    const value = start[field] ?? null;
    return TIMES.has(field) && typeof value === 'string' ? Date.parse(value) : value;
  });
  return JSON.stringify([start.kind, start.walk ?? 'forward', ...parts]);
}

/** Do these say the same, in whatever order and however often? */
export function samePoints(a: readonly SaidStart[], b: readonly SaidStart[]): boolean {
  const [left, right] = [new Set(a.map(pointOf)), new Set(b.map(pointOf))];
  return left.size === right.size && [...left].every((point) => right.has(point));
}

/** A refusal about one starting point, with its place in the request. */
export function startRefusal(at: number, field: string, detail: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/starts/${at}${field}` }] });
}

/** A period ends after it begins. */
export function requirePeriod(at: number, fromMs: number, toMs: number): void {
  if (toMs > fromMs) return;
  throw startRefusal(at, '/to', `Starting point ${at + 1}: the period ends before it begins.`);
}
