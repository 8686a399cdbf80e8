/**
 * What the labels of crates say. A crate of held food still needs its label, for it may be going back or to be destroyed: the hold is
 * printed on it. Refusals: `rule-broken` (a crate with a code of its own has no SSCC to print), `not-found`.
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { fixedWords, heldNote, type LabelLanguage } from '../../../domain/labels/words.ts';
import { formatUseBy } from '../../../domain/use-by.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import { findSites } from '../../catalogue/index.ts';
import {
  findCratesByCode,
  findVisibleCrates,
  listCrateLoads,
  listDispatchLoads,
  type CrateLoadRow,
  type CrateRow,
} from '../../distribution/index.ts';
import { findHoldsReaching, findLots, holdBriefs, type ReachingHold } from '../../ledger/index.ts';
import type { CrateLabelContent } from '../drawing/index.ts';
import { kilograms } from '../drawing/texts.ts';
import { endInForce, wordsOf } from '../lot-label.ts';
import { findSheetDispatch } from '../sheets/queries.ts';

/** As kept with a print: all but the words of the language. */
export interface CrateLabel {
  readonly label: Omit<CrateLabelContent, 'words'>;
  readonly language: LabelLanguage;
}

export interface CratesToLabel {
  readonly crates: readonly CrateRow[];
  readonly loads: readonly CrateLoadRow[];
  /** where they go from, or are */
  readonly homeSiteId: string;
}

/** The crate with what it carries now; what a dispatch brought that was received is in it no more. */
export async function crateToLabel(tx: Tx, scope: SiteScope, crateId: string): Promise<CratesToLabel> {
  const crate = (await findVisibleCrates(tx, scope, [crateId])).get(crateId);
  if (!crate) throw notFound('crate');
  const [newest, ...rest] = await listCrateLoads(tx, [crate.code], 1);
  const loads = newest && newest.state !== 'closed' ? [newest, ...rest] : [];
  return { crates: [crate], loads, homeSiteId: loads[0]?.fromSiteId ?? crate.siteId };
}

/** Every crate of a dispatch, those around others too, in the order of its lines. */
export async function cratesOfDispatch(tx: Tx, scope: SiteScope, dispatchId: string): Promise<CratesToLabel> {
  const dispatch = await findSheetDispatch(tx, dispatchId);
  if (!dispatch || !(scope.includes(dispatch.fromSiteId) || scope.includes(dispatch.toSiteId))) {
    throw notFound('dispatch');
  }
  const loads = await listDispatchLoads(tx, [dispatchId]);
  const codes = [...new Set(loads.flatMap((load) => load.crateCodes))];
  const known = await findCratesByCode(tx, codes);
  const crates = codes.flatMap((code) => known.get(code) ?? []).filter((crate) => crate.sscc !== null);
  if (crates.length === 0) throw new Refused('rule-broken', 'Nothing of this dispatch is in a crate with an SSCC.');
  return { crates, loads, homeSiteId: dispatch.fromSiteId };
}

const quantityText = (quantity: number, unit: string, language: LabelLanguage): string => {
  if (unit === 'piece') return `${quantity} ×`;
  return unit === 'g' ? kilograms(quantity, language) : `${quantity} ${unit}`;
};

/** On the road food is nobody's stock: what holds the rest of its lot on some site's shelf does not hold what is in the van. */
function isAbout(hold: ReachingHold, load: CrateLoadRow): boolean {
  if (load.state !== 'departed') return true;
  const there = hold.accountId === null || hold.accountId === load.dispatchId;
  return there && (hold.siteId === null || hold.siteId === load.toSiteId);
}

export async function crateLabels(
  tx: Tx,
  { crates, loads, homeSiteId }: CratesToLabel,
  language: LabelLanguage,
  nowMs: number,
): Promise<CrateLabel[]> {
  const lotIds = [...new Set(loads.map((load) => load.lotId))];
  const lots = await findLots(tx, lotIds);
  const holds = (await findHoldsReaching(tx, lotIds, nowMs)).filter((hold) => hold.liftedAt === null);
  const sites = await findSites(tx, [
    ...new Set([homeSiteId, ...loads.flatMap((load) => [load.fromSiteId, load.toSiteId])]),
  ]);
  const holdsOf = (load: CrateLoadRow) => holds.filter((hold) => hold.lotId === load.lotId && isAbout(hold, load));
  const endOf = (load: CrateLoadRow): number | null => {
    const lot = lots.get(load.lotId);
    return lot ? endInForce(lot, holdsOf(load), undefined) : null;
  };
  return crates.map((crate) => {
    if (crate.sscc === null) {
      throw new Refused('rule-broken', `Crate ${crate.code} has a code of your own: there is no SSCC to print.`);
    }
    const inside = loads.filter((load) => load.crateCodes.includes(crate.code));
    const first = inside[0];
    const from = sites.get(first?.fromSiteId ?? homeSiteId);
    const to = first && sites.get(first.toSiteId);
    const zone = from?.timeZone ?? 'UTC';
    const ends = inside.map(endOf).filter((end) => end !== null);
    const earliestMs = ends.length === 0 ? null : Math.min(...ends);
    const kinds = new Set(holdBriefs(inside.flatMap(holdsOf)).map((hold) => hold.kind));
    const past = earliestMs !== null && nowMs >= earliestMs ? fixedWords(language).pastUseBy : null;
    const notes = [heldNote(language, kinds), past].filter((note) => note !== null);
    const kept = new Set(inside.flatMap((load) => lots.get(load.lotId)?.storageInstruction ?? []));
    const { address } = to ?? {};
    const reached = [address?.street, address?.postalCode, address?.city].filter((part) => part !== undefined);
    const label: CrateLabel['label'] = {
      sscc: crate.sscc,
      boxType: crate.boxTypeCode,
      fromName: from?.name ?? '',
      toName: to?.name ?? null,
      toAddress: reached.length === 0 ? null : reached.join(', '),
      dispatchCode: first?.dispatchCode ?? null,
      earliestUseBy: earliestMs === null ? null : formatUseBy(earliestMs, zone),
      storageInstruction: kept.size === 0 ? null : [...kept].join(' · '),
      heldNote: notes.length === 0 ? null : notes.join('. '),
      lines: inside.map((load) => {
        const endsAtMs = endOf(load);
        return {
          itemName: load.itemName,
          lotCode: load.lotCode,
          quantity: quantityText(load.quantity, load.unit, language),
          useBy: endsAtMs === null ? null : formatUseBy(endsAtMs, zone),
        };
      }),
      innerSsccs: [
        ...new Set(inside.flatMap(({ crateCodes }) => crateCodes[crateCodes.indexOf(crate.code) - 1] ?? [])),
      ],
    };
    return { label, language };
  });
}

/** `copies` of each, one after the other. */
export function* crateContents(labels: readonly CrateLabel[], copies: number): Generator<CrateLabelContent> {
  for (const { label, language } of labels) {
    const content = { ...label, words: wordsOf(language) };
    for (let copy = 0; copy < copies; copy += 1) yield content;
  }
}
