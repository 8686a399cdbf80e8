/** The only door to goods in. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { readReceipt, readReceipts, takeIn } from './commands.ts';
import { createGoodsReceipt, getGoodsReceipt, listGoodsReceipts } from './contract.ts';

export const goodsInOperations: readonly BoundOperation[] = [
  bind(createGoodsReceipt, takeIn),
  bind(listGoodsReceipts, readReceipts),
  bind(getGoodsReceipt, readReceipt),
];
