/** The same work for both sides: three calls that take every pack of a consignment in, put it away and use it. */
import { exampleId } from '../src/platform/ids.ts';
import type { Consignment, PackLot, PackWorld } from './pack-world.ts';

export const KINDS = ['arrival', 'put-away', 'use'] as const;
export type Kind = (typeof KINDS)[number];

interface ScanBody {
  readonly id: string;
  readonly kind: Kind;
  readonly code: string;
  readonly occurredAt: string;
  readonly placeId?: string;
}

export interface PackScan {
  readonly body: ScanBody;
  readonly lot: PackLot;
  readonly serial: string;
}

/** Every pack once, lot by lot, a millisecond apart; each kind ten seconds after the one before. `name` makes the ids. */
export function scansOf(world: PackWorld, sent: Consignment, kind: Kind, name: string, fromMs: number): PackScan[] {
  const startMs = fromMs + KINDS.indexOf(kind) * 10_000;
  let no = 0;
  return sent.lots.flatMap((lot) =>
    Array.from({ length: lot.packs }, (_, at): PackScan => {
      const serial = String(at + 1);
      no += 1;
      const body = {
        id: exampleId(`bench-scan/${name}/${kind}/${lot.code}/${serial}`),
        kind,
        code: `${lot.code}/${serial}`,
        occurredAt: new Date(startMs + no).toISOString(),
        ...(kind === 'put-away' && { placeId: world.chillerId }),
      };
      return { body, lot, serial };
    }),
  );
}
