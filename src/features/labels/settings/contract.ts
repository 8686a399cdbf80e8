/** What the labels of a site look like: language, size, symbol. */
import { z } from 'zod';
import { labelLanguages } from '../../../domain/labels/words.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { LAYOUTS, type LayoutCode } from '../drawing/layouts.ts';

const layoutCodes = Object.keys(LAYOUTS) as [LayoutCode, ...LayoutCode[]];

export const language = z.enum(labelLanguages).meta({
  description:
    'Of the fixed words and of allergens and diets (shared/label-words.json). Names of dishes are as in the catalogue',
});
export const layout = z
  .enum(layoutCodes)
  .meta({ description: 'A roll (one label a page) or an A4 sheet of labels; millimetres, or columns x rows' });
export const symbol = z.enum(['gs1datamatrix', 'gs1qrcode']).meta({
  description:
    'gs1datamatrix: element string, for scanners. gs1qrcode: a QR Code with a GS1 Digital Link, which telephones open as well. An item ' +
    'without a GTIN has a plain Data Matrix with LOT/SERIAL whatever is said here',
});
const digitalLinkDomain = z
  .string()
  .max(120)
  .regex(/^([a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?\.)+[a-z]{2,63}$/, 'a domain such as id.example.org')
  .nullable()
  .meta({ description: "Of Digital Links; null: GS1's own, id.gs1.org" });

const LabelSettings = z
  .object({
    siteId: uuid,
    language,
    languageBasis: z.string().meta({ description: 'How sure the words of the language are' }),
    layout,
    symbol,
    digitalLinkDomain,
    choice: z
      .object({ settingsId: uuid, version: z.int(), recordedAt: instant, recordedBy: uuid })
      .nullable()
      .meta({ description: 'null: nobody has chosen; these are the defaults' }),
  })
  .meta({ id: 'LabelSettings' });

const params = z.strictObject({ siteId: uuid });

export const getLabelSettings = defineOperation({
  id: 'getLabelSettings',
  method: 'get',
  path: '/v1/sites/{siteId}/label-settings',
  tag: 'labels',
  summary: 'What the labels of a site look like',
  permission: 'labels.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The settings', schema: LabelSettings } },
  errors: ['not-found'],
  example: { status: 200, params: { siteId: exampleId('site/ck') } },
});

export const setLabelSettings = defineOperation({
  id: 'setLabelSettings',
  method: 'post',
  path: '/v1/sites/{siteId}/label-settings',
  tag: 'labels',
  summary: 'Choose language, size and symbol of the labels of a site',
  description: 'For labels that are yet to be printed: what was printed is drawn again as it was.',
  permission: 'label-settings.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      language,
      layout,
      symbol,
      digitalLinkDomain: digitalLinkDomain.optional(),
    })
    .meta({ id: 'NewLabelSettings' }),
  answers: { 201: { description: 'Chosen', schema: LabelSettings, headers: ['Location'] } },
  errors: ['not-found'],
  example: {
    status: 201,
    role: 'quality',
    params: { siteId: exampleId('site/hot') },
    body: { id: exampleId('new/label-settings'), language: 'fr', layout: 'a4-3x8', symbol: 'gs1qrcode' },
  },
});
