/**
 * What a check is about: found at the site that says so, with the lots that it puts in question. Refusals: `not-found`.
 */
import { notFound } from '../../../domain/errors.ts';
import type { AboutKind } from '../../../domain/process-checks/consequences.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findPlaces } from '../../catalogue/index.ts';
import { findVisibleLots } from '../../ledger/index.ts';
import type { CheckSubject } from './shapes.ts';
import {
  findRun,
  listBornLots,
  listReceivedLots,
  listSitesOf,
  lockCheckedBatch,
  type BornLot,
} from './store-subject.ts';

const nothing = {
  batchId: null,
  lotId: null,
  packingRunId: null,
  goodsReceiptId: null,
  dispatchId: null,
  placeId: null,
  machineId: null,
  lots: [],
  loads: 0,
  atOrigin: true,
  kept: null,
  decided: false,
  batchStartedAtMs: null,
} as const;

const WORDS: Readonly<Record<AboutKind, string>> = {
  batch: 'batch',
  lot: 'lot',
  'packing-run': 'packing run',
  'goods-receipt': 'goods receipt',
  dispatch: 'dispatch',
  place: 'place',
  equipment: 'equipment',
  site: 'site',
};

/** @throws Refused not-found when there is no such thing at that site */
export async function getSubject(tx: Tx, siteId: string, about: CheckSubject['about']): Promise<CheckSubject> {
  const { kind, id } = about;
  switch (kind) {
    case 'batch':
      return { ...(await ofBatch(tx, siteId, id, about)), about };
    case 'packing-run':
      return ofRun(tx, siteId, about);
    case 'lot':
      return ofLot(tx, siteId, about);
    case 'site':
      if (id !== siteId) throw notFound('site');
      return { ...nothing, about };
    case 'goods-receipt':
      await requireAt(tx, siteId, kind, id);
      return { ...nothing, about, goodsReceiptId: id, lots: await listReceivedLots(tx, id) };
    case 'dispatch':
      await requireAt(tx, siteId, kind, id);
      return { ...nothing, about, dispatchId: id };
    case 'place':
      return { ...nothing, about, placeId: id, kept: await keptAt(tx, siteId, id) };
    case 'equipment':
      await requireAt(tx, siteId, kind, id);
      return { ...nothing, about, machineId: id };
  }
}

async function requireAt(
  tx: Tx,
  siteId: string,
  kind: 'goods-receipt' | 'dispatch' | 'equipment',
  id: string,
): Promise<void> {
  if (!(await listSitesOf(tx, kind, id)).includes(siteId)) throw notFound(WORDS[kind]);
}

/** A vehicle may be either. */
async function keptAt(tx: Tx, siteId: string, placeId: string): Promise<CheckSubject['kept']> {
  const place = (await findPlaces(tx, [placeId])).get(placeId);
  if (place?.siteId !== siteId) throw notFound(WORDS.place);
  const byKind = {
    chiller: 'chilled',
    freezer: 'frozen',
    'ambient-store': 'ambient',
    'prep-area': 'ambient',
    vehicle: null,
  } as const;
  return byKind[place.kind];
}

interface OfBatch extends CheckSubject {
  readonly born: readonly BornLot[];
}

async function ofBatch(tx: Tx, siteId: string, batchId: string, about: CheckSubject['about']): Promise<OfBatch> {
  const batch = await lockCheckedBatch(tx, batchId);
  if (!batch || batch.siteId !== siteId) throw notFound(WORDS[about.kind]);
  const born = await listBornLots(tx, batchId);
  const loads = born.filter((lot) => lot.origin === 'produced');
  return {
    ...nothing,
    about,
    batchId,
    lots: loads,
    loads: loads.length,
    decided: batch.completed && loads.length > 0 && born.every((lot) => !lot.waits && (lot.rejected || !lot.doubted)),
    batchStartedAtMs: batch.startedAt.getTime(),
    born,
  };
}

async function ofRun(tx: Tx, siteId: string, about: CheckSubject['about']): Promise<CheckSubject> {
  const run = await findRun(tx, about.id);
  if (!run || run.siteId !== siteId) throw notFound(WORDS[about.kind]);
  const { born, ...batch } = await ofBatch(tx, siteId, run.batchId, about);
  const lots = born.filter((lot) => lot.packingRunId === run.packingRunId);
  return { ...batch, packingRunId: run.packingRunId, lots };
}

async function ofLot(tx: Tx, siteId: string, about: CheckSubject['about']): Promise<CheckSubject> {
  const here = { all: false, siteIds: [siteId], includes: (id: string) => id === siteId };
  const lot = (await findVisibleLots(tx, here, [about.id])).get(about.id);
  if (!lot) throw notFound(WORDS[about.kind]);
  const { lotId, code, packingRunId } = lot;
  const alone = { lotId, code, waits: false, rejected: false };
  const own = { ...nothing, about, lotId, packingRunId, atOrigin: lot.siteId === siteId, kept: lot.storage };
  const run = packingRunId === null ? null : await findRun(tx, packingRunId);
  const batchId = run?.batchId ?? lot.batchId;
  if (batchId === null || !own.atOrigin) return { ...own, lots: [alone] };
  const { born, ...batch } = await ofBatch(tx, siteId, batchId, about);
  return { ...batch, lotId, packingRunId, kept: lot.storage, lots: [born.find((one) => one.lotId === lotId) ?? alone] };
}
