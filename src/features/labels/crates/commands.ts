/** Previews of labels of crates. Refusals: `not-found`, `rule-broken`. */
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { crateFileReply, formatOf } from '../files.ts';
import { printSite, settingsAt } from '../where.ts';
import { crateContents, crateLabels, cratesOfDispatch, crateToLabel, type CratesToLabel } from './content.ts';
import type { printCrateLabel, printDispatchLabels } from './contract.ts';

type Previewing = Pick<Context<typeof printCrateLabel>, 'tx' | 'scope' | 'query' | 'nowMs' | 'accept'>;

async function preview({ tx, scope, query, nowMs, accept }: Previewing, which: CratesToLabel, name: string) {
  const siteId = await printSite(tx, scope, query.siteId, which.homeSiteId, '#/query/siteId');
  const { language } = await settingsAt(tx, siteId, { language: query.language });
  const labels = crateContents(await crateLabels(tx, which, language, nowMs), 1);
  const file = { name, layout: query.layout ?? 'roll-100x150', format: formatOf(query, accept), labels };
  return crateFileReply(file, query);
}

export async function previewCrate(context: Context<typeof printCrateLabel>): Promise<Reply> {
  const which = await crateToLabel(context.tx, context.scope, context.params.crateId);
  return preview(context, which, `crate-${which.crates[0]?.code ?? ''}`);
}

export async function previewDispatch(context: Context<typeof printDispatchLabels>): Promise<Reply> {
  const which = await cratesOfDispatch(context.tx, context.scope, context.params.dispatchId);
  return preview(context, which, `crates-${which.loads[0]?.dispatchCode ?? ''}`);
}
