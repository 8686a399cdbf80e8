/**
 * Whether checks of a batch show heat that a control factor can be signed for: lethality checks with the target botulinum-90 that stand and have
 * passed, of the whole batch or of every load. One of the whole batch shows nothing for a load whose own checks do not show it. Only heat from 85 °C up counts: below it a published experiment needed longer than the
 * target's line says.
 */
const HEAT_TARGET = 'botulinum-90';

export interface HeatCheck {
  readonly checkId: string;
  /** null: of the whole batch */
  readonly lotId: string | null;
  readonly result: 'passed' | 'failed';
  readonly targetCode: string | null;
  /** that count at 90 °C, from 85 °C up */
  readonly minutes: number;
  /** its probe was found to measure wrongly */
  readonly inDoubt: boolean;
}

export type HeatProof = { readonly minutes: number } | { readonly whyNot: string };

/**
 * @param checkId the check that is named
 * @param checks lethality checks of the batch that stand
 * @param loads its loads
 */
export function heatProof(checkId: string, checks: readonly HeatCheck[], loads: readonly string[]): HeatProof {
  const named = checks.find((one) => one.checkId === checkId);
  if (!named) return { whyNot: 'It is no lethality check of this batch that stands.' };
  const why = whyNotProof(named);
  if (why !== null) return { whyNot: why };
  if (named.lotId !== null && loads.length === 1) return { minutes: named.minutes };
  const own = (lotId: string) => checks.filter((one) => one.lotId === lotId && one.targetCode === HEAT_TARGET);
  const asked = named.lotId === null ? loads.filter((lotId) => own(lotId).length > 0) : loads;
  const best = asked.map((lotId) =>
    own(lotId)
      .filter((one) => whyNotProof(one) === null)
      .map(({ minutes }) => minutes),
  );
  const without = best.filter((minutes) => minutes.length === 0).length;
  if (without > 0) return { whyNot: `${without} of the ${loads.length} loads have no such check that passed.` };
  const ofBatch = named.lotId === null ? [named.minutes] : [];
  return { minutes: Math.min(...ofBatch, ...best.map((minutes) => Math.max(...minutes))) };
}

function whyNotProof({ result, targetCode, inDoubt }: HeatCheck): string | null {
  if (targetCode !== HEAT_TARGET) return `It was held against another target than ${HEAT_TARGET}.`;
  if (result === 'failed') return 'The check failed.';
  return inDoubt ? 'The probe was found to measure wrongly, and nothing shows that it measured well then.' : null;
}
