/**
 * Allergens corrected upward, never downward. What the kitchen that made it still has may not leave before its label is seen; what has
 * gone is not held, its people are told. Refusals: `not-found`, `allergen-unknown`, `rule-broken` when nothing would be added.
 * Findings: `label-understates`, one for each lot and site where any of it is or is going; `allergen-undeclared`, one for each lot whose
 * item does not declare it.
 */
import { isAllergenCode, unionAllergens } from '../../domain/allergens.ts';
import { notFound, Refused } from '../../domain/errors.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { outbox } from '../../platform/jobs.ts';
import { addAllergens, countReached, listUnderstated, type UnderstatedRow } from './allergens-store.ts';
import { getVisibleLot, lotDetail } from './commands-read.ts';
import type * as contract from './contract-allergens.ts';
import { judgeReached } from './declarations/judge.ts';
import { listEdgesFrom, spreadAllergens } from './edges-store.ts';
import { openFindings, type FindingDraft } from './findings-store.ts';

/** Rows of one answer; the findings name them all. */
const MOST_ROWS = 500;

function known(codes: readonly string[], field: string): string[] {
  const errors = codes.flatMap((code, at) =>
    isAllergenCode(code) ? [] : [{ detail: `${code} is not in the list`, pointer: `#/${field}/${at}` }],
  );
  if (errors.length > 0) throw new Refused('allergen-unknown', `${errors[0]?.detail ?? ''}.`, { errors });
  return unionAllergens([codes]);
}

export async function correctAllergens(context: Context<typeof contract.createAllergenCorrection>): Promise<Reply> {
  const { tx, scope, params, body, nowMs, factId, actor } = context;
  const lot = await getVisibleLot(tx, scope, params.lotId);
  // It holds wherever the lot is: only those who may act where it was born may say so.
  if (!scope.includes(lot.siteId)) throw notFound('lot');
  const allergens = known(body.allergens, 'allergens').filter((code) => !lot.allergens.includes(code));
  const declared = [...lot.allergens, ...lot.mayContain, ...allergens];
  const mayContain = known(body.mayContain ?? [], 'mayContain').filter((code) => !declared.includes(code));
  if (allergens.length + mayContain.length === 0) {
    const detail = `Lot ${lot.code} has all of these already; allergens are only ever added.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/allergens' }] });
  }
  const edges = await listEdgesFrom(tx, lot.lotId);
  // From here on only success.
  const change = { changeId: factId, lotId: lot.lotId, allergens, mayContain, reason: body.reason };
  await addAllergens(tx, { ...change, actorId: actor.actorId }, nowMs);
  if (edges.length > 0) await spreadAllergens(tx, edges, actor.actorId, nowMs);
  const rows = await listUnderstated(tx, lot.lotId);
  await openFindings(tx, understatedFindings(rows, lot.lotId, factId, nowMs), nowMs);
  const held = await judgeReached({ tx, actorId: actor.actorId, nowMs }, [lot.lotId], 'corrected');
  await outbox(tx, 'allergens-corrected', { lotId: lot.lotId, allergens, mayContain }, nowMs);
  const detail = await lotDetail(tx, await getVisibleLot(tx, scope, lot.lotId), nowMs);
  return {
    status: 201,
    body: {
      ...detail,
      lotsReached: await countReached(tx, lot.lotId),
      reached: rows.slice(0, MOST_ROWS),
      tell: whomToTell(rows, held.length > 0),
    },
    siteId: lot.siteId,
    headers: { Location: `/v1/lots/${lot.lotId}` },
  };
}

/** One for each lot and site where it is or is going; what is eaten already is in the answer, there is no label left to mend. */
function understatedFindings(
  rows: readonly UnderstatedRow[],
  causeLotId: string,
  factId: string,
  nowMs: number,
): FindingDraft[] {
  return rows
    .filter((row) => row.onHand + row.onTheWay > 0)
    .map((row) => ({
      kind: 'label-understates',
      // each correction by itself: an open one is not brought up to date by what comes after it
      subject: `${row.lotId}|${row.siteId}|${factId}`,
      siteId: row.siteId,
      lotId: row.lotId,
      quantity: row.onHand + row.onTheWay,
      occurredAtMs: nowMs,
      detail: { lotCode: row.lotCode, leftUnsaid: unionAllergens([row.labelLeavesOut]), causeLotId, factId },
    }));
}

function whomToTell(rows: readonly UnderstatedRow[], held: boolean): string {
  const names = (some: readonly UnderstatedRow[]) => [...new Set(some.map((row) => row.siteName))].join(', ');
  const there = rows.filter((row) => row.onHand + row.onTheWay > 0);
  const eaten = rows.filter((row) => row.served > 0);
  const holds = held
    ? 'What is still where it was made is on hold there. No other hold was placed.'
    : 'No hold was placed.';
  const lines = [
    there.length === 0
      ? 'No food with a label that leaves it out is on hand or on the road.'
      : `${holds} Tell ${names(there)} before serving: the labels there leave it out. Print new ones.`,
    eaten.length === 0 ? '' : `Served already at ${names(eaten)}: find out whether anyone who ate it must avoid it.`,
  ];
  return lines.filter((one) => one !== '').join(' ');
}
