/** How a made lot came to its cost: what went in, what was added, what came out, what was left. */
import type { LotCost } from '../../../domain/costing/shapes.ts';
import { rateFine } from '../../../domain/costing/process.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findUnitCosts, moneyOfProcesses, type CostView, type ProcessMoney } from '../costs/index.ts';
import { addingUp, decimalMinor } from './amounts.ts';
import { findProcessCode, listNamedLots } from './queries.ts';

function ratesOf({ batch, takings, outputs }: ProcessMoney) {
  const worked = takings.length > 0 || outputs.some((lot) => lot.stands > 0);
  return (worked ? (batch?.rates ?? []) : []).map(({ kind, perBatchMinor, perKgMinor }) => ({
    kind,
    fine: rateFine({ perBatchMinor, perKgMinor }, outputs),
  }));
}

/** The printed lines add up: inputs + rates = pool = outputs + abnormal loss + work in process. */
export async function madeByAnswer(tx: Tx, view: CostView, processId: string) {
  const money = (await moneyOfProcesses(tx, view, [processId])).get(processId);
  if (!money) return null;
  const { takings, outputs, batch } = money;
  const standing = outputs.filter((lot) => lot.stands > 0);
  const lotIds = [...new Set([...takings, ...outputs].map((one) => one.lotId))];
  const costs = await findUnitCosts(tx, view, lotIds);
  const names = await listNamedLots(tx, lotIds);
  const costOf = (lotId: string) => costs.get(lotId) as LotCost;
  const named = (lotId: string) => {
    const { lotCode = '', itemName = '', unit = 'g' as const } = names.get(lotId) ?? {};
    return { lotId, lotCode, itemName, unit };
  };
  const rates = ratesOf(money);
  const wentIn = takings.map(({ lotId, quantity }) => BigInt(quantity) * costOf(lotId).unitFine);
  const inMinor = addingUp([...wentIn, ...rates.map((rate) => rate.fine)]);
  const outMinor = addingUp([
    ...standing.map((lot) => BigInt(lot.stands) * costOf(lot.lotId).unitFine),
    money.restFine,
  ]);
  const poolMinor = inMinor.reduce((sum, line) => sum + line, 0);
  const carriedMinor = outMinor.slice(0, standing.length).reduce((sum, line) => sum + line, 0);
  const open = batch !== null && !batch.completed;
  const kind = batch ? ('batch' as const) : (outputs[0]?.madeBy ?? ('conversion' as const));
  return {
    processId,
    kind,
    code: await findProcessCode(tx, processId),
    state: open ? ('open' as const) : ('completed' as const),
    poolMinor,
    addedMinor: inMinor.slice(takings.length).reduce((sum, line) => sum + line, 0),
    carriedMinor,
    abnormalLossMinor: open ? 0 : poolMinor - carriedMinor,
    workInProcessMinor: open ? poolMinor - carriedMinor : 0,
    inputs: takings.map(({ lotId, quantity }, at) => {
      const { unitFine, uncosted } = costOf(lotId);
      const unitCostMinor = decimalMinor(unitFine);
      return { ...named(lotId), quantity, unitCostMinor, valueMinor: inMinor[at] ?? 0, uncosted };
    }),
    rates: rates.map(({ kind: of }, at) => ({ kind: of, amountMinor: inMinor[takings.length + at] ?? 0 })),
    outputs: standing.map((lot, at) => ({ ...named(lot.lotId), quantity: lot.stands, valueMinor: outMinor[at] ?? 0 })),
  };
}
