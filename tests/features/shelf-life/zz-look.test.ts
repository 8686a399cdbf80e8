import { writeFileSync } from 'node:fs';
import pg from 'pg';
import { test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import { demoTemplate } from '../../support/demo.ts';
import { startService } from '../../support/service.ts';

test('look', async () => {
  const service = await startService({ template: await demoTemplate() });
  const client = new pg.Client(service.databaseUrl);
  await client.connect();
  const q = async (text: string) => console.log(text.slice(0, 60), '\n', (await client.query(text)).rows.map((r) => JSON.stringify(r)).join('\n'));
  await q(`select r.kind, l.code, i.code as item, coalesce(p.name, r.part_id::text) as place, p.site_id, r.result_no, r.effective_at, r.ruling_code, r.forbidden_code, r.hold_id is not null as held, b.quantity from shelf_life_result r join lot l on l.lot_id=r.lot_id join item i on i.item_id=l.item_id left join place p on p.place_id=r.part_id left join balance b on b.lot_id=r.lot_id and b.account_id=r.part_id order by 2,4,6`);
  await q(`select h.kind, l.code, h.account_id, h.use_by_at, h.note from hold h join lot l on l.lot_id=h.lot_id where h.kind in ('use-by','safety') and h.lifted_at is null`);
  await q(`select kind, count(*) from finding where status='open' group by 1 order by 1`);
  await q(`select count(*) from lot_exposure_dirty`);
  for (const [lot, place] of [['chicken-d-packs-1', 'hot-chiller'], ['chicken-d-packs-1', 'sch-chiller'], ['rice-d-packs-1', 'w3-chiller'], ['chicken-d-packs-1', 'w9-chiller']]) {
    const a = await service.as('quality').get(`/v1/lots/${exampleId(`lot/${lot}`)}/shelf-life?format=svg&placeId=${exampleId(`place/${place}`)}`);
    console.log(lot, place, a.status, a.text.slice(0, 200).replaceAll('\n', ' '));
    if (a.status === 200) writeFileSync(`/tmp/pic-${lot}-${place}.svg`, a.text);
  }
  const a = await service.as('quality').get(`/v1/lots/${exampleId('lot/chicken-d-packs-1')}/shelf-life`);
  writeFileSync('/tmp/chicken.json', JSON.stringify(a.body, null, 1));
  await client.end();
  await service.stop();
}, 400_000);
