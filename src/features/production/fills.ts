/**
 * The lots that a fill makes, and what they weigh: nominal, weighed net, weighed with their pouches, or each pack by itself. Refusals:
 * `unit-mismatch`, `item-unsuitable`, `rule-broken`, `anchor-missing`, `use-by-later-than-computed`.
 */
import { anchorsOfPacks, bornLot, type BirthFault } from '../../domain/birth.ts';
import { Refused } from '../../domain/errors.ts';
import { apportion } from '../../domain/exact.ts';
import { makePackCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context } from '../../platform/http/contract.ts';
import { derivedId } from '../../platform/ids.ts';
import type { ItemRow, PlaceRow } from '../catalogue/index.ts';
import { requireUnit, type LotDraft, type LotRow } from '../ledger/index.ts';
import type * as contract from './contract-packing.ts';
import type { BatchRow } from './store.ts';

/** Asked for or recorded: the same fields. */
export type Packing = Omit<Context, 'body' | 'params'> &
  Pick<Context<typeof contract.createPackingRun>, 'body' | 'params'>;
type Fill = Packing['body']['fills'][number];

export interface FillParts {
  readonly fill: Fill;
  readonly from: LotRow;
  readonly fromPlace: PlaceRow;
  readonly toPlace: PlaceRow;
  readonly item: ItemRow;
  /** given with a gross mass */
  readonly pouch: ItemRow | undefined;
}

export interface RunTimes {
  readonly startedAtMs: number;
  readonly finishedAtMs: number;
}

interface MadeLot {
  readonly lot: LotDraft;
  /** what of the fill's used quantity is in it, in whole units; sums to it */
  readonly usedQuantity: number;
}

export interface MadeFill extends FillParts {
  readonly sealedAtMs: number;
  readonly made: readonly MadeLot[];
  readonly faults: readonly BirthFault[];
}

function broken(pointer: string, detail: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}

/** What the food of the fill weighs in all; undefined: nominal. A pouch is never food. */
function netMassMg({ fill, pouch }: FillParts, pointer: (field: string) => string): number | undefined {
  const given = [fill.massG, fill.grossMassG, fill.packMassesG].filter((mass) => mass !== undefined);
  if (given.length > 1) throw broken(pointer('massG'), 'Give one of massG, grossMassG and packMassesG.');
  if ((fill.grossMassG === undefined) !== (fill.pouchItemId === undefined)) {
    throw broken(pointer('pouchItemId'), 'A gross mass needs its pouch, and a pouch its gross mass.');
  }
  if (fill.massG !== undefined) return fill.massG * 1000;
  if (fill.grossMassG === undefined || !pouch) return undefined;
  if (pouch.kind !== 'packaging') {
    const detail = `${pouch.name} is not packaging.`;
    throw new Refused('item-unsuitable', detail, { errors: [{ detail, pointer: pointer('pouchItemId') }] });
  }
  const netMg = fill.grossMassG * 1000 - fill.packs * pouch.unitMassMg;
  if (netMg <= 0) throw broken(pointer('grossMassG'), `${fill.packs} of ${pouch.name} weigh that much without food.`);
  return netMg;
}

/** One fill as lots: one of all its packs, or one of each pack that was weighed by itself. */
export function makeFill(
  context: Packing,
  batch: BatchRow,
  parts: FillParts,
  at: number,
  times: RunTimes,
  doneAlready: boolean,
): MadeFill {
  const { fill, from, item } = parts;
  const pointer = (field: string) => `#/fills/${at}/${field}`;
  requireUnit(from, fill.usedUnit, pointer('usedUnit'));
  if (item.kind !== 'packed') {
    const detail = `${item.name} is not a packed item.`;
    throw new Refused('item-unsuitable', detail, { errors: [{ detail, pointer: pointer('packItemId') }] });
  }
  const sealedAtMs = fill.changedOverAt ? fromInstant(fill.changedOverAt) : times.startedAtMs;
  if (sealedAtMs < times.startedAtMs || sealedAtMs > times.finishedAtMs) {
    throw broken(pointer('changedOverAt'), 'The changeover lies outside the run.');
  }
  const massMg = netMassMg(parts, pointer);
  const fillLotId = fill.packLotId ?? derivedId(`fill-${at + 1}`, context.factId);
  const born = (lotId: string, code: string | undefined, packs: number, ofMg: number | undefined) => {
    const { lot, faults } = bornLot({
      lotId,
      code,
      item,
      origin: 'packed',
      quantity: packs,
      massMg: ofMg,
      serialised: fill.serialised ?? true,
      site: batch,
      bornAtMs: times.finishedAtMs,
      anchors: anchorsOfPacks(from, sealedAtMs),
      parents: [from],
      killStepBetween: false,
      wantedDate: fill.useByDate,
      pointer: pointer(fill.useByDate === undefined ? 'fromLotId' : 'useByDate'),
      doneAlready,
    });
    return { lot: { ...lot, packingRunId: context.factId }, faults };
  };
  if (fill.packMassesG === undefined) {
    const { lot, faults } = born(fillLotId, fill.packLotCode, fill.packs, massMg);
    return { ...parts, sealedAtMs, made: [{ lot, usedQuantity: fill.usedQuantity }], faults };
  }
  if (fill.packMassesG.length !== fill.packs) {
    throw broken(pointer('packMassesG'), `${fill.packs} packs have ${fill.packs} masses.`);
  }
  if (fill.packLotId ?? fill.packLotCode) {
    throw broken(pointer('packMassesG'), 'Packs weighed singly are lots of their own and get their own codes.');
  }
  const massesMg = fill.packMassesG.map((massG) => massG * 1000);
  const shares = apportion(BigInt(fill.usedQuantity), massesMg.map(BigInt));
  const date = localDate(times.finishedAtMs, batch.timeZone);
  const singles = massesMg.map((packMg, packAt) => {
    const code = makePackCode(batch.siteCode, date, fillLotId, packAt);
    return born(derivedId(`pack-${packAt + 1}`, fillLotId), code, 1, packMg);
  });
  const made = singles.map(({ lot }, packAt) => ({ lot, usedQuantity: Number(shares[packAt]?.rounded ?? 0n) }));
  return { ...parts, sealedAtMs, made, faults: singles[0]?.faults ?? [] };
}
