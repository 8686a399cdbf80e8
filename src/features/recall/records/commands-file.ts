/** The file of a case and its map. Refusal: `not-found`. */
import type { Context, Reply } from '../../../platform/http/contract.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { renderSheet } from '../../../platform/pdf/sheet.ts';
import type { CellValue, SheetSource } from '../../../platform/spreadsheet/xlsx.ts';
import { loadAccount } from '../account/load.ts';
import { findLotNames, findSiteNames } from '../account/queries.ts';
import { getVisibleRecall } from '../answer.ts';
import type { RecallRow } from '../queries.ts';
import { timelineOf } from '../timeline/commands.ts';
import { XLSX, type getRecallFile, type getRecallMap } from './contract.ts';
import { dossierSheet } from './dossier-sheet.ts';
import { gatherDossier } from './dossier.ts';
import { eventChunks, loadGazetteer } from './events.ts';
import { csvFile, jsonFile, xlsxFile } from './files.ts';
import { mapSvg } from './map-picture.ts';
import { mapOf } from './map.ts';
import { listReachedLots, sortByBirth } from './queries.ts';

const EVERYTHING = { from: null, to: null, siteIds: null };
/** Boxes in one column of a picture that can be scrolled. */
const MAP_BOXES = 24;

type Account = Awaited<ReturnType<typeof loadAccount>>;

const drillText = ({ drill }: RecallRow): string => (drill ? 'DRILL, an exercise and not a real recall. ' : '');

const fileName = ({ code, drill }: RecallRow, ending: string): string =>
  `${code}${drill ? '-DRILL' : ''}.${ending}`.replaceAll(/[^A-Za-z0-9._-]/g, '_');

const attached = (recall: RecallRow, ending: string) => ({
  'Content-Disposition': `attachment; filename="${fileName(recall, ending)}"`,
});

function headOf(recall: RecallRow, account: Account, madeAtMs: number): [string, CellValue][] {
  const { figures } = account;
  return [
    ...(recall.drill ? [['DRILL', 'An exercise, not a real recall'] as [string, CellValue]] : []),
    ['Case', `${recall.code}: ${recall.title}`],
    ['State', recall.state],
    ['Opened at', recall.openedAt.toISOString()],
    ['Made at', new Date(madeAtMs).toISOString()],
    ['Lots in scope', recall.lotCount],
    ['To account for, g', Number(figures.toAccountForG)],
    ['Share answered, %', figures.answeredShare.percent],
    ['Share accounted for, %', figures.accountedShare.percent],
    ['Looked for and not found, g', Number(figures.notFoundG)],
    ['Still open, g', Number(figures.openG)],
  ];
}

const TYPED = ['found', 'quarantined', 'destroyed', 'returned', 'alreadyServed', 'notFound'] as const;

async function accountSheet(tx: Tx, account: Account): Promise<SheetSource> {
  const names = await findLotNames(tx, [...new Set(account.lines.map((line) => line.lotId))]);
  const sites = await findSiteNames(tx, [...new Set(account.lines.map((line) => line.siteId))]);
  const quantities = ['On hand', 'On the road', 'Unexplained', 'In process', 'To be answered for'];
  const typed = ['Found', 'Quarantined', 'Destroyed', 'Returned', 'Already served', 'Not found', 'Open'];
  return {
    name: 'Account',
    columns: [
      { title: 'Site', width: 30 },
      { title: 'Traceability lot code', width: 22 },
      { title: 'Product', width: 30 },
      { title: 'Unit', width: 7 },
      ...[...quantities, ...typed].map((title) => ({ title, width: 12, kind: 'number' as const })),
    ],
    rows: account.lines.map((line): CellValue[] => {
      const name = names.get(line.lotId);
      const said = TYPED.map((outcome) => line.typed[outcome]);
      const booked = [line.onHand, line.inTransit, line.unexplained, line.inProcess, line.toType];
      const about = [sites.get(line.siteId) ?? '', name?.lotCode ?? '', name?.itemName ?? '', line.unit];
      return [...about, ...booked, ...said, line.open];
    }),
  };
}

async function timelineSheet(tx: Tx, recall: RecallRow): Promise<SheetSource> {
  const { events } = await timelineOf(tx, recall);
  return {
    name: 'Timeline',
    columns: [
      { title: 'At (UTC)', width: 19, kind: 'time' },
      { title: 'Recorded at (UTC)', width: 19, kind: 'time' },
      { title: 'What', width: 16 },
      { title: 'Site', width: 30 },
      { title: 'Who', width: 20 },
      { title: 'Text', width: 80 },
    ],
    rows: events.map((event): CellValue[] => {
      const times = [Date.parse(event.at), Date.parse(event.recordedAt)];
      return [...times, event.kind, event.siteName, event.who, event.text];
    }),
  };
}

type Format = 'xlsx' | 'csv' | 'json' | 'pdf';

function formatOf(context: Context<typeof getRecallFile>): Format {
  const types = { 'application/json': 'json', [XLSX]: 'xlsx', 'text/csv': 'csv', 'application/pdf': 'pdf' } as const;
  const wanted: string = context.accept(Object.keys(types));
  return context.query.format ?? (types as Readonly<Record<string, Format>>)[wanted] ?? 'json';
}

export async function readFile(context: Context<typeof getRecallFile>): Promise<Reply> {
  const { tx, scope, params, nowMs, actor } = context;
  const recall = await getVisibleRecall(tx, scope, params.recallId);
  const lotIds = await sortByBirth(tx, await listReachedLots(tx, recall.holdId));
  const format = formatOf(context);
  if (format === 'pdf') {
    const dossier = await gatherDossier(tx, recall, lotIds, { atMs: nowMs, actorId: actor.actorId });
    const data = await renderSheet(dossierSheet(dossier));
    return { status: 200, headers: attached(recall, 'pdf'), raw: { contentType: 'application/pdf', data } };
  }
  const gazetteer = await loadGazetteer(tx);
  const account = format === 'csv' ? null : await loadAccount(tx, recall);
  const more = account && format === 'xlsx' ? [await accountSheet(tx, account), await timelineSheet(tx, recall)] : [];
  // Nothing else may use the transaction from here on: the chunks read ahead.
  const chunks = eventChunks(tx, gazetteer, lotIds, EVERYTHING);
  if (account === null) {
    const stream = { contentType: 'text/csv; charset=utf-8; header=present', chunks: csvFile(chunks) };
    return { status: 200, headers: attached(recall, 'csv'), stream };
  }
  if (format === 'xlsx') {
    const title = `${drillText(recall)}${recall.code}: ${recall.title}`;
    const workbook = xlsxFile(chunks, title, headOf(recall, account, nowMs), more);
    return { status: 200, headers: attached(recall, 'xlsx'), stream: { contentType: XLSX, chunks: workbook } };
  }
  const { recallId, code, drill, title, state, openedAt } = recall;
  const about = { recallId, code, drill, title, state, openedAt: openedAt.toISOString(), lotCount: lotIds.length };
  const json = jsonFile(chunks, { recall: { ...about, figures: account.figures } });
  return { status: 200, stream: { contentType: 'application/json; charset=utf-8', chunks: json } };
}

export async function readMap(context: Context<typeof getRecallMap>): Promise<Reply> {
  const { tx, scope, params, nowMs } = context;
  const recall = await getVisibleRecall(tx, scope, params.recallId);
  const map = await mapOf(tx, recall.holdId, MAP_BOXES);
  const title = `${drillText(recall)}${recall.code}: ${recall.title}`;
  const at = `${new Date(nowMs).toISOString().slice(0, 16).replace('T', ' ')} UTC`;
  const note = `${recall.lotCount} lots as recorded by ${at}, together by item and kitchen. Dashed: into another lot of the same kind.`;
  return { status: 200, raw: { contentType: 'image/svg+xml; charset=utf-8', data: mapSvg(map, title, note) } };
}
