/** Why food is thrown away: the standard reasons, and what a site's own words make of them. */
import table from '../../shared/discard-reasons.json' with { type: 'json' };

interface StandardReason {
  readonly code: string;
  readonly label: string;
  /** of the five of Delegated Decision (EU) 2019/1597 */
  readonly stage: string;
}

/** What a code of a site means. */
export interface KnownReason {
  readonly label: string;
  /** as in shared/discard-reasons.json */
  readonly standardReason: string;
  /** the site's own when it has one, else that of the standard reason */
  readonly stage: string;
}

export const FOOD_WASTE_STAGES: readonly string[] = table.stages.list.map((stage) => stage.code);
export const STANDARD_REASONS: ReadonlyMap<string, StandardReason> = new Map(
  table.reasons.list.map((reason) => [reason.code, reason]),
);

/**
 * Every reason that a site has, standard ones first.
 * @param ownStage what the site's waste is reported under, whatever the reason; null: by reason
 * @param own the site's own codes, and standard ones that it renamed
 */
export function reasonsOf(
  ownStage: string | null,
  own: readonly Pick<KnownReason & { code: string }, 'code' | 'label' | 'standardReason'>[],
): Map<string, KnownReason> {
  const known = new Map<string, KnownReason>();
  for (const { code, label, stage } of STANDARD_REASONS.values())
    known.set(code, { label, standardReason: code, stage: ownStage ?? stage });
  for (const { code, label, standardReason } of own) {
    const stage = ownStage ?? STANDARD_REASONS.get(standardReason)?.stage ?? '';
    known.set(code, { label, standardReason, stage });
  }
  return known;
}
