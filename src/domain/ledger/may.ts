/**
 * May this part be used, sent or served now? A request asks here before it is carried out; a scan asks here to tell the
 * cook. A hold says what it blocks (shared/holds.json). Refusals: `on-hold`, `past-use-by`, `quarantined`,
 * `regenerated-stays`, `insufficient-stock`, `not-for-rework`.
 */
import holdKinds from '../../../shared/holds.json' with { type: 'json' };
import { Refused, type ProblemIssue } from '../errors.ts';

export type Action = 'use-in-batch' | 'leave-site' | 'serve' | 'move-within-site';

export interface OpenHold {
  readonly holdId: string;
  readonly kind: string;
  readonly lotId: string;
  readonly siteId: string | null;
  readonly accountId: string | null;
  /** kind `use-by`: the date in force of the part in that account, earlier than its lot's */
  readonly useByAtMs?: number | null;
}

export interface PartFacts {
  readonly lotId: string;
  readonly lotCode: string;
  readonly siteId: string;
  readonly accountId: string;
  readonly quarantine: boolean;
  /** null: no limit */
  readonly useByMs: number | null;
  readonly holds: readonly OpenHold[];
  /** heated for service: it is served or discarded, nothing else */
  readonly regenerated?: boolean;
}

interface HoldKind {
  readonly code: string;
  readonly blocks: readonly string[];
  readonly sentence: string;
}

const kinds = new Map((holdKinds.kinds as readonly HoldKind[]).map((kind) => [kind.code, kind]));

/**
 * The date in force of a part: the earliest of its lot's and its own.
 * @param holds that are open; those of other lots or accounts are not looked at
 */
export function useByOfPart(
  part: { readonly lotId: string; readonly accountId: string },
  lotUseByMs: number | null,
  holds: readonly OpenHold[],
): number | null {
  let least = lotUseByMs;
  for (const { lotId, accountId, useByAtMs } of holds) {
    if (useByAtMs === null || useByAtMs === undefined || lotId !== part.lotId || accountId !== part.accountId) continue;
    if (least === null || useByAtMs < least) least = useByAtMs;
  }
  return least;
}

/** The open holds that cover the part and block the action. */
export function blockingHolds(part: PartFacts, action: Action): OpenHold[] {
  return part.holds.filter((hold) => {
    const covers =
      (hold.siteId === null || hold.siteId === part.siteId) &&
      (hold.accountId === null || hold.accountId === part.accountId);
    return covers && (kinds.get(hold.kind)?.blocks.includes(action) ?? true);
  });
}

/** In words that a cook can act on; null when nothing stands against it. */
export function whyNot(part: PartFacts, action: Action, atMs: number): string | null {
  const hold = blockingHolds(part, action)[0];
  if (hold) return kinds.get(hold.kind)?.sentence ?? 'On hold. Do not use. Ask the quality lead.';
  if (action !== 'move-within-site' && part.useByMs !== null && atMs >= part.useByMs)
    return 'Past its use-by. Do not use. Discard it.';
  if (action !== 'move-within-site' && part.quarantine) return 'In quarantine. Do not use. Ask the quality lead.';
  if (part.regenerated && (action === 'use-in-batch' || action === 'leave-site'))
    return 'Regenerated: serve it or discard it, nothing else.';
  return null;
}

/**
 * Food for rework asked for in a batch that does not make it safe: the refusal says where it may go. Null when other holds stand against it
 * as well, or none. Whoever asks for a batch with a kill step leaves the holds for rework out.
 */
export function reworkRefusal(part: PartFacts, pointer: string): Refused | null {
  const holds = blockingHolds(part, 'use-in-batch');
  if (holds.length === 0 || holds.some((hold) => hold.kind !== 'for-rework')) return null;
  const detail = `Lot ${part.lotCode} may go only into a batch with a step that makes it safe.`;
  const members = { holds: holds.map((hold) => ({ holdId: hold.holdId, kind: hold.kind })) };
  return new Refused('not-for-rework', detail, { errors: [{ detail, pointer }], members });
}

/** The refusal that stands against a request, or null. `pointer` says which line of the request. */
export function refusalFor(
  part: PartFacts,
  action: Action,
  atMs: number,
  wanted: number,
  available: number,
  pointer: string,
): Refused | null {
  const holds = blockingHolds(part, action);
  const issue = (detail: string): readonly ProblemIssue[] => [{ detail, pointer }];
  if (holds.length > 0) {
    const detail = `Lot ${part.lotCode} is on hold (${[...new Set(holds.map((hold) => hold.kind))].join(', ')}).`;
    const members = { holds: holds.map((hold) => ({ holdId: hold.holdId, kind: hold.kind })) };
    return new Refused('on-hold', detail, { errors: issue(detail), members });
  }
  if (action !== 'move-within-site') {
    if (part.useByMs !== null && atMs >= part.useByMs) {
      const detail = `Lot ${part.lotCode} is past its use-by (${new Date(part.useByMs).toISOString()}).`;
      return new Refused('past-use-by', detail, { errors: issue(detail) });
    }
    if (part.quarantine) {
      const detail = `Lot ${part.lotCode} stands in quarantine there.`;
      return new Refused('quarantined', detail, { errors: issue(detail) });
    }
    if (part.regenerated && action !== 'serve') {
      const detail = `Lot ${part.lotCode} is regenerated food.`;
      return new Refused('regenerated-stays', detail, { errors: issue(detail) });
    }
  }
  if (wanted > available) {
    const detail = `Lot ${part.lotCode}: ${wanted} wanted, ${Math.max(0, available)} there.`;
    return new Refused('insufficient-stock', detail, {
      errors: issue(detail),
      members: { available: Math.max(0, available) },
    });
  }
  return null;
}
