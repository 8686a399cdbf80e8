/** The only door to goods in. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { readReceipt, readReceipts, takeIn } from './commands.ts';
import { checkOpening, takeOpening } from './commands-opening.ts';
import { createGoodsReceipt, getGoodsReceipt, listGoodsReceipts } from './contract.ts';
import { checkOpeningStock, createOpeningStock } from './contract-opening.ts';

export const goodsInOperations: readonly BoundOperation[] = [
  bind(createGoodsReceipt, takeIn),
  bind(listGoodsReceipts, readReceipts),
  bind(getGoodsReceipt, readReceipt),
  bind(createOpeningStock, takeOpening),
  bind(checkOpeningStock, checkOpening),
];
