/**
 * Requirements: recorded in bulk, read, and what was short when they were picked. Refusals: `not-found`, `item-unsuitable`,
 * `diet-unknown`, `csv-unreadable`, `rule-broken`, `invalid-request`, `bad-cursor`.
 */
import { conflictSentence, dietConflict, isDietCode } from '../../../domain/diets.ts';
import { notFound, Refused, type ErrorCode, type ProblemIssue } from '../../../domain/errors.ts';
import { isCalendarDate, utc } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { findDispatches } from '../store.ts';
import type * as contract from './contract.ts';
import { readCsv, sortedOnce, type AskedLine } from './csv.ts';
import { requirementIdOf } from './names.ts';
import * as store from './store.ts';

type Body = Context<typeof contract.createRequirements>['body'];
type Named = AskedLine & store.NewNumber;

function linesOf(body: Body): AskedLine[] {
  if (body.csv !== undefined && body.lines === undefined) return readCsv(body.csv, body.siteId ?? null);
  const { siteId, lines } = body;
  if (lines === undefined || body.csv !== undefined) throw new Refused('rule-broken', 'Send either lines or csv.');
  if (siteId === undefined) throw new Refused('rule-broken', 'Lines are those of one site: siteId is missing.');
  return lines.map((line, at) => ({
    label: `Line ${at + 1}`,
    pointer: `#/lines/${at}`,
    siteId,
    siteCode: null,
    itemId: line.itemId,
    itemCode: null,
    serviceDate: requireDay(line.serviceDate, `#/lines/${at}/serviceDate`),
    meal: line.meal,
    portions: line.portions,
    textureLevel: line.textureLevel ?? null,
    dietCodes: sortedOnce(line.dietCodes ?? []),
    note: line.note ?? null,
  }));
}

/** @throws Refused `invalid-request` when the day is not on the calendar */
export function requireDay(day: string, pointer: string): string {
  if (isCalendarDate(day)) return day;
  const detail = `${day} is not a day of this century.`;
  throw new Refused('invalid-request', detail, { errors: [{ detail, pointer }] });
}

/** All or none: the first issue is the detail, the others are listed. */
function refuseAny(code: ErrorCode, issues: readonly ProblemIssue[]): void {
  if (issues[0] === undefined) return;
  const more = issues.length > 1 ? ` And ${issues.length - 1} more.` : '';
  throw new Refused(code, `${issues[0].detail}.${more}`, { errors: issues });
}

function requireDiets(lines: readonly AskedLine[]): void {
  const issues = lines.flatMap(({ label, pointer, dietCodes }) =>
    dietCodes.flatMap((code) =>
      isDietCode(code) ? [] : [{ detail: `${label}: ${code} is not in the list of diets`, pointer }],
    ),
  );
  refuseAny('diet-unknown', issues);
}

/** Sites out of scope and items that are not known look the same as those that do not exist. */
async function named(context: Context, lines: readonly AskedLine[]): Promise<Named[]> {
  const { tx, scope } = context;
  const given = (key: 'siteId' | 'siteCode' | 'itemId' | 'itemCode') => [
    ...new Set(lines.flatMap((line) => line[key] ?? [])),
  ];
  const sites = await store.findSitesNamed(tx, given('siteId'), given('siteCode'));
  const items = await store.findItemsNamed(tx, given('itemId'), given('itemCode'));
  const siteIds = new Map(
    sites
      .filter((site) => scope.includes(site.siteId))
      .flatMap(
        ({ siteId, code }) =>
          [
            [siteId, siteId],
            [code, siteId],
          ] as const,
      ),
  );
  const itemRows = new Map(
    items.flatMap(
      (item) =>
        [
          [item.itemId, item],
          [item.code, item],
        ] as const,
    ),
  );
  const siteOf = (line: AskedLine) => siteIds.get(line.siteCode ?? line.siteId ?? '');
  const itemOf = (line: AskedLine) => itemRows.get(line.itemCode ?? line.itemId ?? '');
  // Sites by themselves and first: whoever may not act at one is told no more than that.
  const noSite = lines.filter((line) => siteOf(line) === undefined);
  const noItem = lines.filter((line) => itemOf(line) === undefined);
  const unknown = ({ label, pointer }: AskedLine, what: string, code: string | null) => ({
    detail: `${label}: no ${what} ${code ?? 'with that id'} is known here`,
    pointer,
  });
  refuseAny(
    'not-found',
    noSite.map((line) => unknown(line, 'site', line.siteCode)),
  );
  refuseAny(
    'not-found',
    noItem.map((line) => unknown(line, 'item', line.itemCode)),
  );
  const unsuitable: ProblemIssue[] = [];
  const found = lines.flatMap((line): Named[] => {
    const [siteId, item] = [siteOf(line), itemOf(line)];
    if (siteId === undefined || item === undefined) return [];
    if (item.unit !== 'piece' || item.kind === 'packaging') {
      const why = item.kind === 'packaging' ? 'is not food' : `is kept in ${item.unit}: ask for packs of it`;
      unsuitable.push({ detail: `${line.label}: ${item.name} ${why}`, pointer: line.pointer });
    }
    const asked = { ...line, siteId, itemId: item.itemId };
    return [{ ...asked, requirementId: requirementIdOf(asked) }];
  });
  refuseAny('item-unsuitable', unsuitable);
  return found;
}

function requireEachOnce(lines: readonly Named[]): void {
  const first = new Map<string, string>();
  const issues = lines.flatMap(({ requirementId, label, pointer }) => {
    const before = first.get(requirementId);
    if (before !== undefined) {
      return [{ detail: `${label} asks for the same as ${before.toLowerCase()}: which number is meant`, pointer }];
    }
    first.set(requirementId, label);
    return [];
  });
  refuseAny('rule-broken', issues);
}

function whyUnsuitable(row: store.RequirementRow): string | null {
  const conflict = dietConflict({ textureLevel: row.itemTextureLevel, dietCodes: row.itemDietCodes }, row);
  return conflict && conflictSentence(conflict, row.itemName);
}

/** What is asked for, as every answer says it. */
export function askedOf(row: store.RequirementRow) {
  const { requirementId, siteId, serviceDate, meal, itemId, itemCode, itemName, textureLevel, dietCodes } = row;
  return { requirementId, siteId, serviceDate, meal, itemId, itemCode, itemName, textureLevel, dietCodes };
}

const answer = (row: store.RequirementRow) => ({
  ...askedOf(row),
  portions: row.portions,
  note: row.note,
  revision: row.revision,
  recordedAt: row.recordedAt.toISOString(),
  recordedBy: row.recordedBy,
  whyUnsuitable: whyUnsuitable(row),
});

export async function record(context: Context<typeof contract.createRequirements>): Promise<Reply> {
  const { tx, body, factId, actor, nowMs } = context;
  const asked = linesOf(body);
  requireDiets(asked);
  const lines = await named(context, asked);
  requireEachOnce(lines);
  // From here on only success.
  await store.insertRequirements(tx, lines);
  await store.insertNumbers(tx, lines, { factId, actorId: actor.actorId, nowMs });
  const rows = await store.findRequirements(
    tx,
    lines.map((line) => line.requirementId),
  );
  const siteIds = new Set(lines.map((line) => line.siteId));
  const [onlySite] = siteIds;
  return {
    status: 201,
    body: {
      factId,
      requirements: lines.flatMap(({ requirementId }) => {
        const row = rows.get(requirementId);
        return row ? [answer(row)] : [];
      }),
    },
    siteId: siteIds.size === 1 ? (onlySite ?? null) : null,
  };
}

export async function readRequirements(context: Context<typeof contract.listRequirements>): Promise<Reply> {
  const { tx, scope, query } = context;
  const page = pageOf(query, ['text', 'uuid']);
  const day = page.after?.[0];
  if (day !== undefined && !isCalendarDate(day)) throw new Refused('bad-cursor', 'The cursor could not be read.');
  if (query.serviceDate !== undefined) requireDay(query.serviceDate, '#/query/serviceDate');
  const filter = {
    siteId: query.siteId ?? null,
    serviceDate: query.serviceDate ?? null,
    meal: query.meal ?? null,
    itemId: query.itemId ?? null,
    cancelled: query.cancelled === 'true',
  };
  const rows = await store.listRequirementRows(tx, scope, filter, page);
  return pageReply(context.path, query, page, rows.map(answer), (row) => [row.serviceDate, row.requirementId]);
}

export async function readRequirement(context: Context<typeof contract.getRequirement>): Promise<Reply> {
  const { tx, scope, params } = context;
  const row = (await store.findRequirements(tx, [params.requirementId])).get(params.requirementId);
  if (!row || !scope.includes(row.siteId)) throw notFound('requirement');
  const numbers = await store.listNumbers(tx, row.requirementId);
  const shown = numbers.map((number) => ({ ...number, recordedAt: number.recordedAt.toISOString() }));
  return { status: 200, body: { ...answer(row), numbers: shown } };
}

export async function recordShortPick(context: Context<typeof contract.createShortPick>): Promise<Reply> {
  const { tx, scope, params, body, factId, actor, nowMs } = context;
  const dispatch = (await findDispatches(tx, [params.dispatchId])).get(params.dispatchId);
  const requirement = (await store.findRequirements(tx, [body.requirementId])).get(body.requirementId);
  if (!dispatch || !scope.includes(dispatch.fromSiteId)) throw notFound('dispatch');
  if (requirement?.siteId !== dispatch.toSiteId) throw notFound('requirement');
  const row = {
    shortPickId: factId,
    dispatchId: dispatch.dispatchId,
    requirementId: requirement.requirementId,
    shortPortions: body.shortPortions,
    reason: body.reason,
  };
  // From here on only success.
  await store.insertShortPick(tx, row, actor.actorId, nowMs);
  const recorded = { recordedAt: utc(nowMs), recordedBy: actor.actorId };
  return { status: 201, body: { ...row, ...recorded }, siteId: dispatch.fromSiteId };
}
