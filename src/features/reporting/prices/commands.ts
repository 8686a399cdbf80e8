/** Prices of lots. Refusals: `not-found`, `price-unusable`, `currency-differs`, `unit-mismatch`, `rule-broken`, `bad-cursor`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { MAX_QUANTITY } from '../../../platform/http/scalars.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { wakeJob } from '../../../platform/jobs.ts';
import { getCurrency } from '../../identity/index.ts';
import { getVisibleLot, requireUnit, takeMoneyNo, type LotRow } from '../../ledger/index.ts';
import { findBooks, requireCurrency } from '../money.ts';
import type { createPrice, listPrices } from './contract.ts';
import { insertPrice, listPriceRows, movedBefore } from './store.ts';

const MADE: ReadonlySet<LotRow['origin']> = new Set(['produced', 'packed', 'converted']);

function broken(detail: string, pointer: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}

function unusable(detail: string): Refused {
  return new Refused('price-unusable', detail, { errors: [{ detail, pointer: '#/priceMinor' }] });
}

interface Said {
  readonly priceMinor: number;
  readonly perQuantity?: number | undefined;
  readonly freeOfCharge?: true | undefined;
}

/** Nothing is guessed: a price of 0 is a slip unless somebody says that nothing was paid. */
function requireUsable({ priceMinor, freeOfCharge, perQuantity }: Said, lot: LotRow): void {
  if (priceMinor === 0 && !freeOfCharge) {
    throw unusable('A price of 0 needs freeOfCharge: true. Leave a lot without a price until the invoice is there.');
  }
  if (priceMinor !== 0 && freeOfCharge) throw unusable('Free of charge goes with a price of 0.');
  // Sums of months have to stay below 2^53.
  const all = (BigInt(priceMinor) * BigInt(lot.quantity)) / BigInt(perQuantity ?? lot.quantity);
  if (all > BigInt(MAX_QUANTITY)) throw unusable(`That is ${all} minor units for all of ${lot.code}.`);
}

export async function sayPrice(context: Context<typeof createPrice>): Promise<Reply> {
  const { tx, scope, body, factId, actor, nowMs } = context;
  const lot = await getVisibleLot(tx, scope, body.lotId);
  // The price holds wherever the lot is: it is for the site that took it in.
  if (!scope.includes(lot.siteId)) throw notFound('lot');
  if (MADE.has(lot.origin)) {
    throw broken(`${lot.code} was made here: its cost follows from what went in.`, '#/lotId');
  }
  if (body.unit !== undefined && body.perQuantity === undefined) throw broken('A unit of what?', '#/unit');
  if (body.unit !== undefined) requireUnit({ unit: lot.unit, code: lot.itemName }, body.unit, '#/unit');
  if (lot.origin === 'pseudo' && body.perQuantity === undefined) {
    throw broken(`${lot.itemName} is not kept by lot: say what the price is for.`, '#/perQuantity');
  }
  requireUsable(body, lot);
  const currency = await requireCurrency(tx, body.currency);
  const books = await findBooks(tx);
  const adjusts = books !== null && (await movedBefore(tx, lot.lotId, `${books.openMonth}-01`, books.lastClose.cutSeq));
  // From here on only success.
  const fact = { kind: 'price', subjectId: lot.lotId, factId, actorId: actor.actorId } as const;
  const moneyNo = await takeMoneyNo(tx, fact, nowMs);
  const price = {
    priceId: factId,
    lotId: lot.lotId,
    priceMinor: body.priceMinor,
    perQuantity: body.perQuantity ?? null,
    freeOfCharge: body.freeOfCharge ?? false,
    invoiceNumber: body.invoiceNumber ?? null,
    reason: body.reason ?? null,
    recordedBy: actor.actorId,
  };
  const supersedesPriceId = await insertPrice(tx, { ...price, moneyNo }, nowMs);
  await wakeJob(tx, 'reckon-costs');
  const answer = {
    ...price,
    lotCode: lot.code,
    itemName: lot.itemName,
    unit: lot.unit,
    currency,
    supersedesPriceId,
    moneyNo,
    adjustsMonth: adjusts ? books.openMonth : null,
    recordedAt: new Date(nowMs).toISOString(),
  };
  return { status: 201, body: answer, siteId: lot.siteId, headers: { Location: `/v1/prices?lotId=${lot.lotId}` } };
}

export async function readPrices(context: Context<typeof listPrices>): Promise<Reply> {
  const { tx, scope, query, path } = context;
  const page = pageOf(query, ['int']);
  const currency = await getCurrency(tx);
  const rows = await listPriceRows(tx, scope, query.lotId ?? null, page);
  const answers = rows.map((row) => ({ ...row, currency, recordedAt: row.recordedAt.toISOString() }));
  return pageReply(path, query, page, answers, (row) => [String(row.moneyNo)]);
}
