/**
 * Previews of the labels of a lot and of a packing run. Refusals: `not-found`, `serials-do-not-fit`, `on-hold`, `past-use-by`,
 * `item-unsuitable` (not lot-tracked), `rule-broken` (too many at once, no use-by, words that do not fit).
 */
import { notFound } from '../../domain/errors.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { findVisibleLots, getVisibleLot, type LotRow } from '../ledger/index.ts';
import type { printLotLabels, printRunLabels } from './contract.ts';
import { fileReply, formatOf } from './files.ts';
import { labelsOf, lotLabels, type LotLabels } from './lot-label.ts';
import { listRunLots } from './queries.ts';
import { requireFew, serialsToPrint } from './serials.ts';
import { printSite, settingsAt } from './where.ts';

/** The lots of a run that the actor's sites have to do with. @throws Refused `not-found` when there is none */
export async function getRunLots({ tx, scope }: Pick<Context, 'tx' | 'scope'>, runId: string): Promise<LotRow[]> {
  const lotIds = await listRunLots(tx, runId);
  const lots = await findVisibleLots(tx, scope, lotIds);
  const found = lotIds.flatMap((lotId) => lots.get(lotId) ?? []);
  if (found.length === 0) throw notFound('packing run');
  return found;
}

export async function printLabels(context: Context<typeof printLotLabels>): Promise<Reply> {
  const { query, params } = context;
  const lot = await getVisibleLot(context.tx, context.scope, params.lotId);
  const name = `label-${lot.code}`;
  return preview(context, [lot], { serials: query.serials, placeId: query.placeId, name });
}

export async function printRun(context: Context<typeof printRunLabels>): Promise<Reply> {
  const lots = await getRunLots(context, context.params.packingRunId);
  return preview(context, lots, { name: `labels-${lots[0]?.code ?? ''}` });
}

type Previewing = Pick<Context<typeof printRunLabels>, 'tx' | 'scope' | 'query' | 'nowMs' | 'accept'>;

async function preview(
  { tx, scope, query, nowMs, accept }: Previewing,
  lots: readonly LotRow[],
  wish: { serials?: string | undefined; placeId?: string | undefined; name: string },
): Promise<Reply> {
  const homeSiteId = lots[0]?.siteId ?? '';
  const settings = await settingsAt(tx, await printSite(tx, scope, query.siteId, homeSiteId, '#/query/siteId'), query);
  const runs: LotLabels[] = [];
  for (const lot of lots) {
    const serials = serialsToPrint(wish.serials, lot, '#/query/serials');
    const quarantine = query.quarantine === 'true';
    runs.push(await lotLabels(tx, lot, { settings, serials, placeId: wish.placeId, quarantine }, nowMs));
  }
  requireFew(runs.reduce((sum, run) => sum + run.serials.length, 0));
  const file = {
    name: wish.name,
    layout: settings.layout,
    format: formatOf(query, accept),
    labels: labelsOf(runs, 1),
  };
  return fileReply(file, query);
}
