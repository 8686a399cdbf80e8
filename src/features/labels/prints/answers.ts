/** Prints as answers say them. Refusals: none. */
import { supersededPrints } from '../../../domain/labels/prints.ts';
import type { Tx } from '../../../platform/db/db.ts';
import * as store from './store.ts';

export function headAnswer(head: store.PrintHead) {
  const { aboutKind, aboutId, sisterSerial, secondPersonId, printedAt, printId, siteId, reason, note, layout } = head;
  const { copies, labels, printedBy } = head;
  return {
    ...{ printId, siteId, about: { kind: aboutKind, id: aboutId }, reason, note, layout, copies, labels, printedBy },
    sister: sisterSerial === null || secondPersonId === null ? null : { serial: sisterSerial, secondPersonId },
    printedAt: printedAt.toISOString(),
  };
}

export async function answerOf(tx: Tx, head: store.PrintHead) {
  const rows = await store.listPrintsOfSamePacks(tx, head.printId);
  const byPack = new Map<string, store.PrintedPackRow[]>();
  for (const row of rows) {
    const key = `${row.lotId}/${row.serial}`;
    byPack.set(key, [...(byPack.get(key) ?? []), row]);
  }
  const packs = rows
    .filter((row) => row.printId === head.printId)
    .map(({ lotId, lotCode, itemName, serial, labels, useByMs }) => ({
      ...{ lotId, lotCode, itemName, serial: serial === '' ? null : serial, labels },
      useByAt: useByMs === null ? null : new Date(useByMs).toISOString(),
      supersededByPrintId: supersededPrints(byPack.get(`${lotId}/${serial}`) ?? []).get(head.printId) ?? null,
    }));
  const file = (format: string) => `/v1/label-prints/${head.printId}/file?format=${format}`;
  const crates = await store.listCratesOfPrint(tx, head.printId);
  return { ...headAnswer(head), packs, crates, files: { pdf: file('pdf'), svg: file('svg'), png: file('png') } };
}
