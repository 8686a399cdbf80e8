/** All that the printed file of a case says, gathered as plain data. Lists are bounded; each says how many there are. */
import table from '../../../../shared/recalls.json' with { type: 'json' };
import { groupBy } from '../../../domain/grouping.ts';
import type { Account } from '../../../domain/recall/account.ts';
import type { FlowMap } from '../../../domain/recall/flow-map.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findPeopleNames } from '../../identity/index.ts';
import { quantitiesOfLots } from '../../tracing/index.ts';
import { openLinesOf } from '../account/answer.ts';
import { loadAccount } from '../account/load.ts';
import { findLotNames, findSiteNames, listTold, type ToldRow } from '../account/queries.ts';
import { checksOf } from '../checks/store.ts';
import { startText } from '../drill-history/commands.ts';
import { listLotBriefs, listStarts, type RecallRow } from '../queries.ts';
import { countRevisions } from '../revisions.ts';
import { onTheRoad, standingOf, type Standing } from '../standing.ts';
import { readInForce, type InForce } from '../statements/store.ts';
import { timelineOf } from '../timeline/commands.ts';
import { loadGazetteer, type Gazetteer } from './events.ts';
import { mapOf } from './map.ts';
import { findNamed } from './queries.ts';

const MOST_DOSSIER_LOTS = 300;
const MOST_OPEN = 200;
const MOST_EVENTS = 400;
/** Boxes in a column that a page of A4 can hold. */
const MAP_BOXES = 11;

interface DossierSite {
  readonly name: string;
  /** location description */
  readonly description: string;
  readonly lotCount: number;
  readonly quantities: Standing['sites'][number]['quantities'];
  readonly typed: readonly { readonly outcome: string; readonly quantity: number; readonly unit: string }[];
  readonly open: readonly { readonly quantity: number; readonly unit: string }[];
  readonly noticedAtMs: number | null;
  readonly acknowledgedAtMs: number | null;
  /** nothing: there was none of it when the site was told */
  readonly answer: 'answered' | 'none' | 'nothing';
}

interface DossierLot {
  readonly code: string;
  readonly itemName: string;
  readonly unit: string;
  readonly bornAtMs: number;
  readonly siteName: string;
  readonly supplierName: string | null;
  readonly supplierLotCode: string | null;
  readonly produced: number;
  readonly sums: Readonly<
    Record<'onHand' | 'inTransit' | 'served' | 'wasted' | 'returned' | 'consumed' | 'unexplained', number>
  >;
}

export interface Dossier {
  readonly code: string;
  readonly drill: boolean;
  readonly title: string;
  readonly state: 'open' | 'closed';
  readonly group: string;
  readonly madeAtMs: number;
  readonly madeBy: string;
  readonly openedAtMs: number;
  readonly openedBy: string;
  readonly scopeMs: number;
  readonly revision: number;
  readonly lotCount: number;
  /** labels, in words; null: nobody said */
  readonly class: string | null;
  readonly depth: string | null;
  readonly action: string | null;
  readonly reason: string | null;
  readonly text: string | null;
  readonly leadName: string | null;
  readonly contact: string | null;
  readonly checkLevel: string | null;
  readonly checks: { readonly neededSites: number; readonly checkedSites: number; readonly effectiveSites: number };
  readonly starts: readonly {
    readonly text: string;
    readonly note: string | null;
    readonly lotCount: number;
    readonly addedAtMs: number;
  }[];
  readonly figures: Account['figures'];
  readonly totals: Standing['totals'];
  readonly sites: readonly DossierSite[];
  readonly road: readonly {
    readonly code: string;
    readonly to: string;
    readonly text: readonly { quantity: number; unit: string }[];
  }[];
  readonly lots: readonly DossierLot[];
  readonly open: readonly {
    readonly siteName: string;
    readonly lotCode: string;
    readonly itemName: string;
    readonly quantity: number;
    readonly unit: string;
  }[];
  readonly openCount: number;
  readonly timeline: readonly {
    readonly atMs: number;
    readonly kind: string;
    readonly siteName: string | null;
    readonly who: string | null;
    readonly text: string;
  }[];
  readonly timelineMore: boolean;
  readonly map: FlowMap;
}

function labelOf(list: readonly { readonly code: string; readonly label: string }[], code: unknown): string | null {
  if (typeof code !== 'string') return null;
  const label = list.find((one) => one.code === code)?.label;
  return label === undefined ? code : `${code}: ${label}`;
}

function saidOf(said: InForce) {
  return {
    class: labelOf(table.classes.list, said.class),
    depth: labelOf(table.depths.list, said.depth),
    action: labelOf(table.actions.list, said.action),
    reason: labelOf(table.reasons.list, said.reason),
    text: said.text ?? null,
    leadName: said.leadName ?? null,
    contact: said.contact ?? null,
    checkLevel: labelOf(table.checkLevels.list, said.checkLevel),
  };
}

const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;

const idsIn = (said: Readonly<Record<string, unknown>>): string[] =>
  Object.values(said).filter((value): value is string => typeof value === 'string' && UUID.test(value));

/** The starting point in words, with the names of what it named by id. */
function saidText(said: Readonly<Record<string, unknown>>, named: ReadonlyMap<string, string>): string {
  const names = idsIn(said).flatMap((id) => named.get(id) ?? []);
  return names.length === 0 ? startText(said) : `${startText(said)}: ${names.join(', ')}`;
}

const OUTCOMES = ['found', 'quarantined', 'destroyed', 'returned', 'alreadyServed', 'notFound'] as const;

function answerOf(row: ToldRow | undefined): DossierSite['answer'] {
  if (row !== undefined && row.answeredAt !== null) return 'answered';
  return row === undefined || !row.awaitsAnswer ? 'nothing' : 'none';
}

async function sitesOf(tx: Tx, recallId: string, account: Account, standing: Standing, gazetteer: Gazetteer) {
  const told = new Map((await listTold(tx, recallId)).map((row) => [row.siteId, row]));
  const lines = groupBy(account.lines, (line) => line.siteId);
  const known = new Map(standing.sites.map((site) => [site.siteId, site]));
  const siteIds = [...new Set([...told.keys(), ...known.keys(), ...lines.keys()])];
  const sites = siteIds.map((siteId): DossierSite => {
    const place = gazetteer.places.get(siteId);
    const own = lines.get(siteId) ?? [];
    const row = told.get(siteId);
    return {
      name: place?.name ?? siteId,
      description: place?.description ?? '',
      lotCount: known.get(siteId)?.lotCount ?? 0,
      quantities: known.get(siteId)?.quantities ?? [],
      typed: own.flatMap((line) =>
        OUTCOMES.map((outcome) => ({ outcome, quantity: line.typed[outcome], unit: line.unit })),
      ),
      open: own.map((line) => ({ quantity: line.open, unit: line.unit })),
      noticedAtMs: row?.noticedAt.getTime() ?? null,
      acknowledgedAtMs: row?.acknowledgedAt?.getTime() ?? null,
      answer: answerOf(row),
    };
  });
  return { sites: sites.sort((a, b) => a.name.localeCompare(b.name)), told: told.size };
}

async function lotsOf(tx: Tx, lotIds: readonly string[]): Promise<DossierLot[]> {
  const briefs = await listLotBriefs(tx, lotIds);
  const amounts = await quantitiesOfLots(tx, lotIds);
  const none = { onHand: 0, inTransit: 0, served: 0, wasted: 0, returned: 0, consumed: 0, unexplained: 0 };
  return briefs.map((lot) => ({
    code: lot.lotCode,
    itemName: lot.itemName,
    unit: lot.unit,
    bornAtMs: lot.bornAt.getTime(),
    siteName: lot.siteName,
    supplierName: lot.supplierName,
    supplierLotCode: lot.supplierLotCode,
    produced: amounts.get(lot.lotId)?.produced ?? 0,
    sums: amounts.get(lot.lotId)?.sums ?? none,
  }));
}

async function openOf(tx: Tx, account: Account) {
  const open = openLinesOf(account);
  const shown = open.slice(0, MOST_OPEN);
  const names = await findLotNames(tx, [...new Set(shown.map((line) => line.lotId))]);
  const sites = await findSiteNames(tx, [...new Set(shown.map((line) => line.siteId))]);
  return {
    openCount: open.length,
    open: shown.map((line) => ({
      siteName: sites.get(line.siteId) ?? '',
      lotCode: names.get(line.lotId)?.lotCode ?? '',
      itemName: names.get(line.lotId)?.itemName ?? '',
      quantity: line.open,
      unit: line.unit,
    })),
  };
}

/** @param lotIds the scope, in the order in which it is to be listed */
export async function gatherDossier(
  tx: Tx,
  recall: RecallRow,
  lotIds: readonly string[],
  made: { readonly atMs: number; readonly actorId: string },
): Promise<Dossier> {
  const { recallId, holdId } = recall;
  const gazetteer = await loadGazetteer(tx);
  const account = await loadAccount(tx, recall);
  const standing = await standingOf(tx, { holdId });
  const { sites, told } = await sitesOf(tx, recallId, account, standing, gazetteer);
  const timeline = await timelineOf(tx, recall);
  const names = await findPeopleNames(tx, [recall.openedBy, made.actorId]);
  const road = await onTheRoad(tx, { holdId });
  const starts = await listStarts(tx, recallId);
  const named = await findNamed(
    tx,
    starts.flatMap(({ said }) => idsIn(said)),
  );
  return {
    code: recall.code,
    drill: recall.drill,
    title: recall.title,
    state: recall.state,
    group: gazetteer.places.get(tx.groupId)?.description ?? '',
    madeAtMs: made.atMs,
    madeBy: names.get(made.actorId) ?? made.actorId,
    openedAtMs: recall.openedAt.getTime(),
    openedBy: names.get(recall.openedBy) ?? recall.openedBy,
    scopeMs: recall.scopeMs,
    revision: await countRevisions(tx, holdId),
    lotCount: lotIds.length,
    ...saidOf(await readInForce(tx, recallId)),
    checks: await checksOf(tx, recallId, told),
    starts: starts.map(({ said, lotCount, addedAt }) => ({
      text: saidText(said, named),
      note: typeof said['note'] === 'string' ? said['note'] : null,
      lotCount,
      addedAtMs: addedAt.getTime(),
    })),
    figures: account.figures,
    totals: standing.totals,
    sites,
    road: road.map(({ code, toSiteId, lots }) => ({
      code,
      to: gazetteer.places.get(toSiteId)?.name ?? '',
      text: lots.map(({ quantity, unit }) => ({ quantity, unit })),
    })),
    lots: await lotsOf(tx, lotIds.slice(0, MOST_DOSSIER_LOTS)),
    ...(await openOf(tx, account)),
    timeline: timeline.events.slice(0, MOST_EVENTS).map(({ at, kind, siteName, who, text }) => ({
      atMs: Date.parse(at),
      kind,
      siteName,
      who,
      text,
    })),
    timelineMore: timeline.more || timeline.events.length > MOST_EVENTS,
    map: await mapOf(tx, holdId, MAP_BOXES),
  };
}
