/** The label settings of a site. Refusals: `not-found`. */
import { notFound } from '../../../domain/errors.ts';
import { basisOfLanguage } from '../../../domain/labels/words.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply, SiteScope } from '../../../platform/http/contract.ts';
import { findSites, lockSite } from '../../catalogue/index.ts';
import type { getLabelSettings, setLabelSettings } from './contract.ts';
import { findSettings, insertSettings, PLAIN_SETTINGS, type SettingsRow } from './store.ts';

function answerOf(siteId: string, row: SettingsRow | null) {
  const { language, layout, symbol, digitalLinkDomain } = row ?? PLAIN_SETTINGS;
  const choice = row && {
    settingsId: row.settingsId,
    version: row.version,
    recordedAt: row.recordedAt.toISOString(),
    recordedBy: row.recordedBy,
  };
  return { siteId, language, languageBasis: basisOfLanguage(language), layout, symbol, digitalLinkDomain, choice };
}

async function requireSite(tx: Tx, scope: SiteScope, siteId: string): Promise<void> {
  if (!(await findSites(tx, [siteId])).has(siteId) || !scope.includes(siteId)) throw notFound('site');
}

export async function readSettings({ tx, scope, params }: Context<typeof getLabelSettings>): Promise<Reply> {
  await requireSite(tx, scope, params.siteId);
  return { status: 200, body: answerOf(params.siteId, await findSettings(tx, params.siteId)) };
}

export async function chooseSettings(context: Context<typeof setLabelSettings>): Promise<Reply> {
  const { tx, scope, params, body, factId, nowMs, actor } = context;
  const { siteId } = params;
  await requireSite(tx, scope, siteId);
  // Two who choose at once get versions one after the other.
  await lockSite(tx, siteId);
  const last = await findSettings(tx, siteId);
  const row: SettingsRow = {
    settingsId: factId,
    siteId,
    version: (last?.version ?? 0) + 1,
    language: body.language,
    layout: body.layout,
    symbol: body.symbol,
    digitalLinkDomain: body.digitalLinkDomain ?? null,
    recordedAt: new Date(nowMs),
    recordedBy: actor.actorId,
  };
  // From here on only success.
  await insertSettings(tx, row);
  return {
    status: 201,
    body: answerOf(siteId, row),
    siteId,
    headers: { Location: `/v1/sites/${siteId}/label-settings` },
  };
}
