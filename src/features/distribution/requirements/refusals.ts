/**
 * What a line of a dispatch must be when it names a requirement: of the site that the dispatch goes to, in packs, and of exactly the
 * texture and diets that are asked for. Asked when a dispatch is planned, changed and when it departs, because an item's marks may have
 * changed since. Another item of the same texture and diets may be sent. Refusals: `not-found`, `diet-mismatch`, `rule-broken`.
 */
import { conflictSentence, dietConflict } from '../../../domain/diets.ts';
import { notFound, Refused } from '../../../domain/errors.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findItems } from '../../catalogue/index.ts';
import type { LotRow } from '../../ledger/index.ts';
import { findRequirements } from './store.ts';

export async function requireRequirementsMet(
  tx: Tx,
  toSiteId: string,
  lines: readonly { readonly lotId: string; readonly requirementId?: string | null | undefined }[],
  lots: ReadonlyMap<string, LotRow>,
): Promise<void> {
  const asking = lines.flatMap(({ lotId, requirementId }, at) => (requirementId ? [{ lotId, requirementId, at }] : []));
  if (asking.length === 0) return;
  const requirements = await findRequirements(tx, [...new Set(asking.map((line) => line.requirementId))]);
  const items = await findItems(tx, [...new Set([...lots.values()].map((lot) => lot.itemId))]);
  for (const { lotId, requirementId, at } of asking) {
    const requirement = requirements.get(requirementId);
    if (requirement?.siteId !== toSiteId) throw notFound('requirement');
    const lot = lots.get(lotId);
    const item = items.get(lot?.itemId ?? '');
    if (!lot || !item) throw notFound('lot');
    const refuse = (code: 'diet-mismatch' | 'rule-broken', detail: string) =>
      new Refused(code, detail, { errors: [{ detail, pointer: `#/lines/${at}/requirementId` }] });
    if (lot.unit !== 'piece') {
      throw refuse('rule-broken', `Lot ${lot.code} is not in packs: nobody can say how many portions it is.`);
    }
    const conflict = dietConflict(item, requirement);
    if (conflict) throw refuse('diet-mismatch', conflictSentence(conflict, item.name));
  }
}
