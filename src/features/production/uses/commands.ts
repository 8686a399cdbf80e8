/** What a machine was used for. Refusals: `not-found`, `rule-broken` (days the wrong way round), `period-too-long`. */
import { endOfDateMs } from '../../../domain/birth.ts';
import { carryOvers, type CarryOver } from '../../../domain/carry-over.ts';
import { notFound } from '../../../domain/errors.ts';
import { inOrder, leftBehind, type MachineEvent } from '../../../domain/left-behind.ts';
import { startOfDateMs } from '../../../domain/limits/days.ts';
import { refuseQuery, requirePeriod } from '../../../domain/query-days.ts';
import { utc } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { findEquipment, findSites } from '../../catalogue/index.ts';
import { findPeopleNames } from '../../identity/index.ts';
import { passesOf, type MachinePass } from '../separation.ts';
import { MOST_DAYS, type listEquipmentUses } from './contract.ts';
import {
  listCleaned,
  listMachineChecks,
  listUses,
  type CleanedRow,
  type MachineCheckRow,
  type UseRow,
} from './store.ts';

const MOST_LOTS = 20;
const DAY_MS = 86_400_000;

/** One thing that happened to the machine: what it is reckoned as, and how it is told. */
interface Happening {
  readonly event: MachineEvent;
  /** unique among those of one moment, and in their order */
  readonly key: string;
  readonly told: Readonly<Record<string, unknown>>;
}

export async function readUses(context: Context<typeof listEquipmentUses>): Promise<Reply> {
  const { tx, params, scope, query } = context;
  const machine = (await findEquipment(tx, [params.equipmentId])).get(params.equipmentId);
  if (!machine || !scope.includes(machine.siteId)) throw notFound('equipment');
  const page = pageOf(query, ['time', 'text']);
  const zone = (await findSites(tx, [machine.siteId])).get(machine.siteId)?.timeZone ?? 'UTC';
  const { fromMs, toMs } = periodOf(query, zone);
  const rows = await listUses(tx, machine.equipmentId, fromMs, toMs);
  const passes = passesOf(rows);
  const firstMs = Math.min(fromMs, ...passes.map((pass) => pass.beginsMs));
  const cleaned = await listCleaned(tx, machine.equipmentId, firstMs, toMs);
  const checks = await listMachineChecks(tx, machine.equipmentId, fromMs, toMs);
  const names = await findPeopleNames(tx, [
    ...new Set([...cleaned.map((one) => one.recordedBy), ...checks.map((one) => one.doneBy)]),
  ]);
  const full = cleaned.filter((one) => one.kind === 'full').map((one) => one.occurredAt.getTime());
  const found = carryOvers(passes, full);
  const happened = [
    ...passes.flatMap((pass, at) => ofPass(pass, rows[at], found)),
    ...cleaned.map((one) => ofCleaning(one, names)),
    ...checks.map((one) => ofCheck(one, names)),
  ].sort((a, b) => inOrder(a.event, b.event) || (a.key < b.key ? -1 : 1));
  const left = leftBehind(happened.map(({ event }) => event));
  const told = happened
    .map(({ event, key, told: what }, at) => ({
      at: utc(event.atMs),
      key,
      atMs: event.atMs,
      ...what,
      leaves: left[at],
    }))
    .filter(({ atMs }) => atMs >= fromMs && atMs < toMs);
  const begins = page.after === null ? 0 : told.findIndex((one) => isAfter(one, page.after ?? []));
  const items = begins < 0 ? [] : told.slice(begins, begins + page.limit + 1);
  const reply = pageReply(context.path, query, page, items, (one) => [one.at, one.key]);
  const body = reply.body as { items: typeof items; nextCursor: string | null };
  const shown = body.items.map(({ key: _key, atMs: _atMs, ...one }) => one);
  return { ...reply, body: { items: shown, nextCursor: body.nextCursor } };
}

const isAfter = (one: { at: string; key: string }, [at = '', key = '']: readonly string[]): boolean =>
  one.at > at || (one.at === at && one.key > key);

function periodOf(query: { fromDate: string; toDate: string }, zone: string): { fromMs: number; toMs: number } {
  requirePeriod(query);
  const fromMs = endOfDateMs(query.fromDate, zone, '#/query/fromDate');
  const toMs = endOfDateMs(query.toDate, zone, '#/query/toDate');
  if (toMs - fromMs > (MOST_DAYS - 0.5) * DAY_MS) {
    throw refuseQuery('toDate', `At most ${MOST_DAYS} days at once.`, 'period-too-long');
  }
  return { fromMs: startOfDateMs(query.fromDate, zone), toMs };
}

const NOTHING = { run: null, cleanDown: null, check: null, found: [] };

function ofPass(pass: MachinePass, row: UseRow | undefined, found: readonly CarryOver[]): Happening[] {
  if (!row) return [];
  const run = {
    packingRunId: row.packingRunId,
    batchId: row.batchId,
    batchCode: row.batchCode,
    programme: row.programme,
    beganAt: utc(pass.beginsMs),
    handling: row.raw ? 'raw' : 'ready-to-eat',
    allergens: row.allergens,
    lots: row.lots.slice(0, MOST_LOTS).map(({ lotId, code, itemName }) => ({ lotId, lotCode: code, itemName })),
    lotCount: row.lots.length,
  };
  const carried = found
    .filter(({ later }) => later.key === pass.key)
    .map(({ kind, earlier, allergens }) => ({
      kind,
      earlierPackingRunId: earlier.runId,
      earlierEndedAt: utc(earlier.endsMs),
      allergens,
    }));
  const event = { what: 'food', atMs: pass.endsMs, raw: pass.raw, allergens: pass.allergens } as const;
  const told = { ...NOTHING, what: 'packing', who: row.packerName, run, found: carried };
  return [{ event, key: `0:${pass.key}`, told }];
}

function ofCleaning(row: CleanedRow, names: ReadonlyMap<string, string>): Happening {
  const { cleanDownId, kind, note } = row;
  return {
    event: { what: kind === 'full' ? 'full-clean-down' : 'other', atMs: row.occurredAt.getTime() },
    key: `${kind === 'full' ? 1 : 2}:${cleanDownId}`,
    told: {
      ...NOTHING,
      what: 'clean-down',
      who: names.get(row.recordedBy) ?? 'a device',
      cleanDown: { cleanDownId, kind, note },
    },
  };
}

function ofCheck(row: MachineCheckRow, names: ReadonlyMap<string, string>): Happening {
  const { checkId, stage, kind, result } = row;
  return {
    event: { what: 'other', atMs: row.occurredAt.getTime() },
    key: `2:${checkId}`,
    told: {
      ...NOTHING,
      what: 'check',
      who: names.get(row.doneBy) ?? 'a device',
      check: { checkId, stage, kind, result },
    },
  };
}
