/** SQL on site_label_settings. */
import type { LabelLanguage } from '../../../domain/labels/words.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { LayoutCode } from '../drawing/layouts.ts';

export interface LabelSettings {
  readonly language: LabelLanguage;
  readonly layout: LayoutCode;
  readonly symbol: 'gs1datamatrix' | 'gs1qrcode';
  /** null: id.gs1.org */
  readonly digitalLinkDomain: string | null;
}

export interface SettingsRow extends LabelSettings {
  readonly settingsId: string;
  readonly siteId: string;
  readonly version: number;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

/** Where nobody has chosen. */
export const PLAIN_SETTINGS: LabelSettings = {
  language: 'en',
  layout: 'roll-100x60',
  symbol: 'gs1datamatrix',
  digitalLinkDomain: null,
};

export async function findSettings(tx: Tx, siteId: string): Promise<SettingsRow | null> {
  const rows = await tx.query<SettingsRow>(
    `select s.settings_id as "settingsId", s.site_id as "siteId", s.version, s.language, s.layout, s.symbol,
            s.digital_link_domain as "digitalLinkDomain", s.recorded_at as "recordedAt", s.recorded_by as "recordedBy"
       from site_label_settings s
      where s.group_id = $1::uuid and s.site_id = $2::uuid
      order by s.version desc limit 1`,
    [tx.groupId, siteId],
  );
  return rows[0] ?? null;
}

export async function insertSettings(tx: Tx, row: SettingsRow): Promise<void> {
  await tx.query(
    `insert into site_label_settings (group_id, settings_id, site_id, version, language, layout, symbol, digital_link_domain,
            recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::int, $5::text, $6::text, $7::text, $8::text, $9::timestamptz, $10::uuid)`,
    [
      tx.groupId,
      row.settingsId,
      row.siteId,
      row.version,
      row.language,
      row.layout,
      row.symbol,
      row.digitalLinkDomain,
      row.recordedAt,
      row.recordedBy,
    ],
  );
}
