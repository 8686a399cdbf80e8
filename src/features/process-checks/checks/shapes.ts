/** What a check is while it is taken. */
import type { AboutKind, CheckedLot, UpperLimit } from '../../../domain/process-checks/consequences.ts';
import type { SentMeasure } from '../../../domain/process-checks/measured.ts';
import type { CheckKind, SeriesPoint, Stage } from '../../../domain/process-checks/shapes.ts';
import type { Context } from '../../../platform/http/contract.ts';
import type { FindingDraft, HoldDraft } from '../../ledger/index.ts';
import type { CheckRow } from './queries.ts';
import type { NewCheck } from './store.ts';

/** What a check needs of the request that it came with. */
export type Checking = Pick<Context, 'tx' | 'scope' | 'actor' | 'nowMs'>;

export interface CheckBody extends SentMeasure {
  readonly siteId: string;
  readonly stage: Stage;
  readonly kind: CheckKind;
  readonly about: { readonly kind: AboutKind; readonly id: string };
  readonly controlPoint?: string | undefined;
  readonly occurredAt?: string | undefined;
  readonly doneBy?: string | undefined;
  readonly instrumentId?: string | undefined;
  readonly machineId?: string | undefined;
  readonly correctiveAction?: string | undefined;
  readonly documentHref?: string | undefined;
  readonly note?: string | undefined;
}

export interface Correction {
  /** stands until now */
  readonly row: CheckRow;
  readonly reason: string;
}

/** A check that may be written: all refusals are behind it. */
export interface DecidedCheck {
  readonly row: NewCheck;
  readonly points: readonly SeriesPoint[] | null;
  readonly correctiveAction: string | null;
  readonly holds: readonly HoldDraft[];
  readonly findings: readonly FindingDraft[];
  /** of what a correction puts right: kind and subject */
  readonly cleared: readonly { readonly kind: string; readonly subject: string }[];
  readonly lots: CheckSubject['lots'];
  readonly remarks: readonly string[];
}

export interface CheckSubject {
  readonly about: { readonly kind: AboutKind; readonly id: string };
  /** of the batch where the food is made or packed; a check of its packs at another site is not one of the batch */
  readonly batchId: string | null;
  readonly lotId: string | null;
  readonly packingRunId: string | null;
  readonly goodsReceiptId: string | null;
  readonly dispatchId: string | null;
  readonly placeId: string | null;
  readonly machineId: string | null;
  /** what is in question when it fails */
  readonly lots: readonly CheckedLot[];
  /** loads of the batch; 0 where there is none */
  readonly loads: number;
  /** the food was made, packed or received at the site of the check */
  readonly atOrigin: boolean;
  /** how it is kept; null where that is not one thing: a delivery, a machine */
  readonly kept: 'chilled' | 'frozen' | 'ambient' | null;
  /** the batch is completed, every lot of it is decided, and none that was released is held for a failed check */
  readonly decided: boolean;
  /** null where there is no batch */
  readonly batchStartedAtMs: number | null;
}

/** What a caller knows beside what was sent. */
export interface CheckMore {
  readonly subject?: CheckSubject;
  readonly correction?: Correction;
  readonly atMost?: UpperLimit;
}

export interface ReleasedLot {
  readonly lotId: string;
  readonly lotCode: string;
}

/** What came of a check. */
export interface TakenCheck {
  readonly checkId: string;
  readonly siteId: string;
  readonly batchId: string | null;
  readonly lotId: string | null;
  readonly packingRunId: string | null;
  readonly result: 'passed' | 'failed';
  readonly held: readonly { readonly holdId: string; readonly lotId: string; readonly lotCode: string }[];
  readonly findings: readonly FindingDraft[];
  readonly remarks: readonly string[];
}
