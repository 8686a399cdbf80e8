/** What whoever relies on a batch's record should know. */
import type { BatchRecord } from './contract.ts';
import { countText } from './view-words.ts';

export function cautionsOf(record: Omit<BatchRecord, 'cautions'>): string[] {
  const { plan, checks, lots, runs } = record;
  const standing = checks.filter(({ supersededByCheckId }) => supersededByCheckId === null);
  const unconfirmed = plan?.points.filter(({ confirmed, basis }) => basis === 'from-memory' && !confirmed) ?? [];
  const undeclared = lots.filter((lot) => lot.undeclared.length > 0);
  return [
    ...(plan === null
      ? [
          'The recipe had no process plan when the batch was opened: no check was demanded of it, and a person alone decides.',
        ]
      : []),
    ...(standing.length === 0 ? ['No check of this batch is recorded.'] : []),
    ...(unconfirmed.length > 0
      ? [
          `Limits from memory that no person has confirmed: ${unconfirmed.map(({ label }) => label).join(', ')}. They never release by themselves.`,
        ]
      : []),
    ...(undeclared.length > 0
      ? [
          `${countText(undeclared.length, 'lot')} with an allergen that the item does not declare: see the label before it leaves.`,
        ]
      : []),
    ...(runs.some(({ cleanedBefore, reversed }) => cleanedBefore === null && !reversed)
      ? ['Before a packing run no clean-down of its machine is recorded.']
      : []),
    'It shows what was recorded up to the time at its foot. Who made the food, and a competent person, judge it by the food-safety plan of the group and the law of the place; this record replaces neither.',
  ];
}
