/** The only door to the ledger: quantity, lots, holds, findings. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { readAllergenPaths } from './declarations/commands.ts';
import { getAllergenPaths } from './declarations/contract.ts';
import * as binCommands from './bins/commands.ts';
import * as bins from './bins/contract.ts';
import * as inUseCommands from './lots-in-use/commands.ts';
import * as inUse from './lots-in-use/contract.ts';
import * as countCommands from './commands-counts.ts';
import * as allergenCommands from './commands-allergens.ts';
import * as holdCommands from './commands-holds.ts';
import * as readCommands from './commands-read.ts';
import * as moveCommands from './commands-moves.ts';
import * as stockCommands from './commands-stock.ts';
import * as counts from './contract-counts.ts';
import * as packCommands from './commands-unidentified.ts';
import * as allergens from './contract-allergens.ts';
import * as holds from './contract-holds.ts';
import * as lots from './contract-lots.ts';
import * as moves from './contract-moves.ts';
import * as stock from './contract-stock.ts';
import * as packs from './contract-unidentified.ts';

export { outside, placeAccount, transitAccount } from './accounts.ts';
export { entryAnswer } from './answers.ts';
export { requireBin } from './bins/commands.ts';
export { listLikelySwapRows } from './counts-queries.ts';
export { listLotsInUse } from './lots-in-use/store.ts';
export { previewTaking } from './bins/facts.ts';
export { settleBin } from './bins/settle.ts';
export { insertBinInput, listBinMembers, type BinRef } from './bins/store.ts';
export { checkDiscardReason, DESTINATIONS, materialOf, purposeOf } from './discard-reasons.ts';
export { holdsOfDoubt, insertDoubtfulInput, listDoubtfulInputs, qualityHold } from './doubts.ts';
export { loadBalancesAt, loadBook, type PartRef } from './book.ts';
export { writeBook } from './write.ts';
export { requirePast, requireUnit } from './commands-stock.ts';
export { material, useFields } from './contract-stock.ts';
export { getVisibleLot } from './commands-read.ts';
export { insertCaseHold, reachFrom, watchSupplierLots, type WatchedCode } from './case-holds.ts';
export { getCutAt, getCutNow, takeMoneyNo, type Cut } from './cuts.ts';
export { clearFindings, openFindings, settleOpen, type FindingDraft } from './findings-store.ts';
export { addEdges, ancestorsAmong, listWithAncestors } from './edges-store.ts';
export {
  findHoldsReaching,
  holdBriefs,
  holdsAgainstInput,
  insertFollowingHolds,
  insertHolds,
  liftHolds,
  type HoldDraft,
  type ReachingHold,
} from './holds-store.ts';
export { judgeBorn } from './declarations/judge.ts';
export { joinLate } from './late-edges.ts';
export {
  findLots,
  findLotsByCode,
  findVisibleLots,
  insertLots,
  LOT_VISIBLE,
  requireFreeLots,
  type LotDraft,
  type LotRow,
} from './lots-store.ts';
export { findPastDateStock, trimOutbox } from './jobs.ts';
export { doubtsOf, findingsOf, inPlace, partFacts, shortfallNow, verdict } from './observe.ts';
export { lockPart, partUseBy } from './part-dates-store.ts';
export { withCarried } from './part-dates-carried.ts';
export { loosenPart, markLabelled, tightenPart } from './part-dates.ts';
export { findEntry, listEntryLines, type EntryRow } from './queries.ts';
export { confirmPresumed } from './presumed.ts';
export { processKey } from './process-key.ts';
export { afterReversal, partsOfLines, postReversal, requireReversible } from './reversals.ts';
export { EntryAnswer, FindingBrief, HoldBrief, lotParams } from './shapes.ts';

export const ledgerOperations: readonly BoundOperation[] = [
  bind(lots.listLots, readCommands.readLots),
  bind(lots.getLot, readCommands.readLot),
  bind(lots.createUseByChange, readCommands.bringForward),
  bind(allergens.createAllergenCorrection, allergenCommands.correctAllergens),
  bind(getAllergenPaths, readAllergenPaths),
  bind(lots.getLotHistory, readCommands.readHistory),
  bind(lots.getEntry, readCommands.readEntry),
  bind(lots.listStock, readCommands.readStock),
  bind(moves.createMove, moveCommands.move),
  bind(moves.createRecordedMove, moveCommands.recordMove),
  bind(stock.createUse, stockCommands.use),
  bind(stock.createDiscard, stockCommands.discard),
  bind(stock.createReturn, stockCommands.giveBack),
  bind(counts.createStockCount, countCommands.count),
  bind(bins.getBin, binCommands.readBin),
  bind(bins.createBinEmptying, binCommands.empty),
  bind(inUse.createLotInUse, inUseCommands.putInUse),
  bind(inUse.getLotsInUse, inUseCommands.readInUse),
  bind(counts.listDerivedUses, countCommands.readDerivedUses),
  bind(counts.listLikelySwaps, countCommands.readLikelySwaps),
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
