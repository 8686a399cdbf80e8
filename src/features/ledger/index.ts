/** The only door to the ledger: quantity, lots, holds, findings. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import * as allergenCommands from './commands-allergens.ts';
import * as holdCommands from './commands-holds.ts';
import * as readCommands from './commands-read.ts';
import * as stockCommands from './commands-stock.ts';
import * as packCommands from './commands-unidentified.ts';
import * as allergens from './contract-allergens.ts';
import * as holds from './contract-holds.ts';
import * as lots from './contract-lots.ts';
import * as stock from './contract-stock.ts';
import * as packs from './contract-unidentified.ts';

export { outside, placeAccount, transitAccount } from './accounts.ts';
export { entryAnswer } from './answers.ts';
export { loadBalancesAt, loadBook, writeBook, type CountLine, type PartRef } from './book.ts';
export { checkDiscardReason, requirePast, requireUnit } from './commands-stock.ts';
export { getVisibleLot } from './commands-read.ts';
export { clearFindings, openFindings, type FindingDraft } from './findings-store.ts';
export { addEdges, descendsFromAny, spreadAllergens, spreadUseBy } from './edges-store.ts';
export { findHoldsReaching, insertHolds, liftHolds, type ReachingHold } from './holds-store.ts';
export {
  findLots,
  findLotsByCode,
  findVisibleLots,
  insertLots,
  requireFreeLots,
  type LotDraft,
  type LotRow,
} from './lots-store.ts';
export { findPastDateStock, trimOutbox } from './jobs.ts';
export { findingsOf, partFacts, verdict } from './observe.ts';
export { findEntry, listEntryLines, type EntryRow } from './queries.ts';
export { afterReversal, partsOfLines, postReversal, requireReversible } from './reversals.ts';
export { EntryAnswer, FindingBrief, HoldBrief, lotParams } from './shapes.ts';

export const ledgerOperations: readonly BoundOperation[] = [
  bind(lots.listLots, readCommands.readLots),
  bind(lots.getLot, readCommands.readLot),
  bind(lots.createUseByChange, readCommands.bringForward),
  bind(allergens.createAllergenCorrection, allergenCommands.correctAllergens),
  bind(lots.getLotHistory, readCommands.readHistory),
  bind(lots.getEntry, readCommands.readEntry),
  bind(lots.listStock, readCommands.readStock),
  bind(stock.createMove, stockCommands.move),
  bind(stock.createUse, stockCommands.use),
  bind(stock.createDiscard, stockCommands.discard),
  bind(stock.createReturn, stockCommands.giveBack),
  bind(stock.createStockCount, stockCommands.count),
  bind(packs.createUnidentifiedPack, packCommands.recordUnidentified),
  bind(packs.listUnidentifiedPacks, packCommands.readUnidentifiedPacks),
  bind(packs.getUnidentifiedPack, packCommands.readUnidentified),
  bind(packs.createPackIdentification, packCommands.identify),
  bind(packs.createPackDisposal, packCommands.dispose),
  bind(holds.createHold, holdCommands.placeHold),
  bind(holds.listHolds, holdCommands.readHolds),
  bind(holds.getHold, holdCommands.readHold),
  bind(holds.createHoldLift, holdCommands.liftHold),
  bind(holds.listFindings, holdCommands.readFindings),
  bind(holds.getFinding, holdCommands.readFinding),
  bind(holds.createFindingSettlement, holdCommands.settle),
];
