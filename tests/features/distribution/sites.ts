/** What the tests of distribution share: a second and a third site, packs that are released, a dispatch of them. */
import { randomUUID } from 'node:crypto';
import type { Json, Kitchen } from '../../support/kitchen.ts';

/** A satellite with a chiller. */
export interface Site {
  readonly siteId: string;
  readonly chillerId: string;
  readonly quarantineId: string;
  readonly receivingId: string;
}

export async function addSite(kitchen: Kitchen, code: string, jurisdiction = 'GB-ENG'): Promise<Site> {
  const site = await kitchen.post('admin', '/v1/sites', {
    code,
    name: `Pantry ${code}`,
    kind: 'satellite',
    timeZone: 'Europe/London',
    jurisdiction,
  });
  const chiller = await kitchen.post('admin', '/v1/places', {
    siteId: site.siteId,
    code: 'CHILL-1',
    name: 'Chiller',
    kind: 'chiller',
  });
  return {
    siteId: site.siteId,
    chillerId: chiller.placeId,
    quarantineId: site.quarantinePlaceId,
    receivingId: site.receivingPlaceId,
  };
}

/** Packs in the kitchen's chiller; counted, not serialised, unless `more` says otherwise. */
export async function packsOf(kitchen: Kitchen, packs: number, options: { released?: boolean; more?: object } = {}) {
  const shin = await kitchen.shin(40_000);
  const { batchId, lotId } = await kitchen.stew(shin, 40_000, 34_000);
  const packLotId = await kitchen.pack(batchId, lotId, 30_000, packs, options.more ?? { serialised: false });
  if (options.released ?? true) await kitchen.release(batchId);
  return { batchId, lotId: packLotId };
}

export async function plan(kitchen: Kitchen, toSiteId: string, lotId: string, quantity: number, more: object = {}) {
  const { world } = kitchen;
  const { purpose, ...line } = more as { purpose?: string };
  const answer = await kitchen.post('kitchen', '/v1/dispatches', {
    fromSiteId: world.ckId,
    toSiteId,
    ...(purpose !== undefined && { purpose }),
    lines: [{ lotId, placeId: world.ckChillerId, quantity, unit: 'piece', ...line }],
  });
  return answer.dispatchId as string;
}

export const accepted = (lotId: string, quantity: number, more: object = {}) => ({
  lotId,
  quantity,
  unit: 'piece',
  condition: 'accepted',
  ...more,
});

export async function receive(
  kitchen: Kitchen,
  dispatchId: string,
  occurredAt: string,
  lines: object[],
  closes = true,
) {
  return kitchen.post('receiver', `/v1/dispatches/${dispatchId}/receipts`, { occurredAt, closes, lines });
}

/** What is where of a lot: by place id, `served`, `transit` …; zeros left out; the parts sum to what was born. */
export async function whereIs(kitchen: Kitchen, lotId: string): Promise<Record<string, number>> {
  const trace = await kitchen.get('operations', `/v1/lots/${lotId}/trace?direction=forward`);
  const lot = trace.lots.find((one: Json) => one.lotId === lotId);
  if (!lot.balanced) throw new Error(`lot ${lotId} is not balanced: ${JSON.stringify(lot.whereNow)}`);
  const sums: Record<string, number> = {};
  for (const stop of lot.whereNow) {
    const key = (stop.kind === 'place' ? stop.placeId : stop.kind) as string;
    if (stop.quantity !== 0) sums[key] = (sums[key] ?? 0) + Number(stop.quantity);
  }
  return sums;
}

export const kindsOf = (findings: Json): string[] => findings.map((one: Json) => one.kind as string).sort();

export async function openFindings(kitchen: Kitchen, kind: string): Promise<Json[]> {
  return (await kitchen.get('quality', `/v1/findings?kind=${kind}&limit=500`)).items;
}

export const fresh = (fields: object) => ({ id: randomUUID(), ...fields });
