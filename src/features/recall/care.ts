/** A case's life once it is open: notices, answers, statements, checks, the account, closing. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import * as accountCommands from './account/commands.ts';
import * as account from './account/contract.ts';
import { recordCheck } from './checks/commands.ts';
import { recordRecallCheck } from './checks/contract.ts';
import { readDrills } from './drill-history/commands.ts';
import { listRecallDrills } from './drill-history/contract.ts';
import * as noticeCommands from './notices/commands.ts';
import * as notices from './notices/contract.ts';
import { answer } from './responses/commands.ts';
import { answerRecall } from './responses/contract.ts';
import { makeStatement } from './statements/commands.ts';
import { makeRecallStatement } from './statements/contract.ts';
import { readTimeline } from './timeline/commands.ts';
import { getRecallTimeline } from './timeline/contract.ts';
import * as turnCommands from './turns/commands.ts';
import * as turns from './turns/contract.ts';

export const careOperations: readonly BoundOperation[] = [
  bind(makeRecallStatement, makeStatement),
  bind(notices.listRecallNotices, noticeCommands.readNotices),
  bind(notices.getRecallNotice, noticeCommands.readNotice),
  bind(notices.acknowledgeRecallNotice, noticeCommands.acknowledge),
  bind(answerRecall, answer),
  bind(account.getRecallAccount, accountCommands.readAccount),
  bind(account.listRecallChasing, accountCommands.readChasing),
  bind(recordRecallCheck, recordCheck),
  bind(turns.closeRecall, turnCommands.close),
  bind(turns.reopenRecall, turnCommands.reopen),
  bind(getRecallTimeline, readTimeline),
  bind(listRecallDrills, readDrills),
];
