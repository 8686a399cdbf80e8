/** Closes a month of the bench's group over HTTP and waits until its files are ready. */
import { setTimeout as sleep } from 'node:timers/promises';
import { exampleId } from '../src/platform/ids.ts';
import type { BenchService } from './service.ts';

interface Close {
  readonly closeId: string;
  readonly state: 'making' | 'ready' | 'failed';
  readonly progress: { readonly done: number; readonly of: number; readonly step: string | null };
  readonly files: readonly { readonly kind: string; readonly bytes: number }[];
}

const LOOK_EACH_MS = 50;
const WITHIN_MS = 600_000;

/** In seconds since the month was asked to be closed; steps are told to a twentieth of a second. */
export interface ClosedMonth {
  /** checks and cut: what the other writers waited for */
  readonly cutS: number;
  readonly readyS: number;
  /** when each step was done */
  readonly steps: Readonly<Record<string, number>>;
  readonly bytes: Readonly<Record<string, number>>;
}

export async function closeMonth(service: BenchService, month: string): Promise<ClosedMonth> {
  const startedAt = performance.now();
  const sinceS = (): number => Math.round((performance.now() - startedAt) / 10) / 100;
  const { closeId } = (await service.post('/v1/month-closes', { id: exampleId(`close/${month}`), month })) as Close;
  const cutS = sinceS();
  const steps: Record<string, number> = {};
  let before = 'costs';
  for (;;) {
    const answer = await fetch(`${service.url}/v1/month-closes/${closeId}`, {
      headers: { authorization: service.authorization },
    });
    const close = (await answer.json()) as Close;
    if (close.state === 'failed') throw new Error(`the close failed at ${before}`);
    const step = close.progress.step ?? 'ready';
    if (step !== before) steps[before] = sinceS();
    before = step;
    if (close.state === 'ready') {
      return {
        cutS,
        readyS: sinceS(),
        steps,
        bytes: Object.fromEntries(close.files.map((one) => [one.kind, one.bytes])),
      };
    }
    if (performance.now() - startedAt > WITHIN_MS) throw new Error(`no files within ${WITHIN_MS} ms; at ${before}`);
    await sleep(LOOK_EACH_MS);
  }
}
