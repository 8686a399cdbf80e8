/** Cases as a test opens and reads them over HTTP: the oracle's starting points in the service's words, and pages read to their end. */
import { exampleId } from '../../../src/platform/ids.ts';
import type { OracleStart } from '../oracle/recall.ts';
import type { Json } from '../kitchen.ts';
import type { Answer, Client } from '../service.ts';
import { IDS, ITEMS } from './group.ts';

const instant = (ms: number): string => new Date(ms).toISOString();

const during = ({ kind, fromMs, toMs }: { kind: string; fromMs: number; toMs: number }): object => ({
  kind,
  from: instant(fromMs),
  to: instant(toMs),
});

export function startInWords(start: OracleStart): object {
  switch (start.kind) {
    case 'lot':
      return { kind: 'lot', lotId: start.lotId };
    case 'complaint':
      return { kind: 'complaint', lotCode: start.lotId.replaceAll('-', '').slice(0, 20), whatIsWrong: 'leaker' };
    case 'supplier-lot':
      return { kind: 'supplier-lot', supplierId: IDS.supplierId, supplierLotCode: start.key };
    case 'batch':
      return { kind: 'batch', batchId: start.batchId };
    case 'packing-run':
      return { kind: 'packing-run', packingRunId: start.packingId };
    case 'dispatch':
      return { kind: 'dispatch', dispatchId: start.dispatchId };
    case 'supplier-period':
      return { ...during(start), supplierId: IDS.supplierId };
    case 'machine-period':
      return { ...during(start), equipmentId: IDS.packerId };
    case 'person-period':
      return { ...during(start), personId: exampleId('person/operations') };
    case 'item-period':
      return { ...during(start), itemId: ITEMS[start.item] };
    case 'place-period':
      return { ...during(start), placeId: start.placeId };
  }
}

/** The body of an answer that must have this status. */
export function bodyOf(answer: Answer, status: number): Json {
  if (answer.status !== status) throw new Error(`answered ${answer.status}: ${answer.text}`);
  return answer.body;
}

/** All of a list, page by page; small pages, so that paging is tried too. */
export async function everyItem(client: Client, path: string, limit = 7): Promise<Json[]> {
  const items: Json[] = [];
  let next = `${path}${path.includes('?') ? '&' : '?'}limit=${limit}`;
  for (;;) {
    const page = bodyOf(await client.get(next), 200);
    items.push(...(page.items as Json[]));
    const cursor = page.nextCursor as string | null | undefined;
    if (cursor === null || cursor === undefined) return items;
    next = `${path}${path.includes('?') ? '&' : '?'}limit=${limit}&cursor=${encodeURIComponent(cursor)}`;
  }
}
