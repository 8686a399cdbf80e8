/** The only door to recall: cases from the first call until every pack is accounted for. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { careOperations } from './care.ts';
import * as openCommands from './commands-open.ts';
import * as readCommands from './commands-read.ts';
import * as scopeCommands from './commands-scope.ts';
import * as cases from './contract-cases.ts';
import * as scope from './contract-scope.ts';
import { previewRecall } from './contract-starts.ts';
import { preview } from './preview.ts';

export { noticeSites } from './notices/due.ts';
export { reviseCases } from './revise.ts';

const caseOperations: readonly BoundOperation[] = [
  bind(previewRecall, preview),
  bind(cases.openRecall, openCommands.open),
  bind(cases.addRecallStarts, openCommands.addStarts),
  bind(cases.startRecallDrill, openCommands.startDrill),
  bind(cases.listRecalls, readCommands.readRecalls),
  bind(cases.getRecall, readCommands.readRecall),
  bind(scope.listRecallLots, scopeCommands.readLots),
  bind(scope.listRecallRevisions, scopeCommands.readRevisions),
  bind(scope.listRecallExceptions, scopeCommands.readExceptions),
];

export const recallOperations: readonly BoundOperation[] = [...caseOperations, ...careOperations];
