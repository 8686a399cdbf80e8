/** The edge to other systems: event feed, webhooks, EPCIS, spreadsheets. */
import type { Tokens } from '../../platform/auth/tokens.ts';
import type { Clock } from '../../platform/clock.ts';
import type { Db } from '../../platform/db/db.ts';
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import type { Job } from '../../platform/jobs.ts';
import type { Log } from '../../platform/log.ts';
import { announcedOperations } from './announced/operations.ts';
import { epcisQueryOperations } from './epcis-query/operations.ts';
import * as epcis from './epcis/commands.ts';
import * as epcisContract from './epcis/contract.ts';
import { epcisJobs } from './epcis/jobs.ts';
import * as feed from './feed/commands.ts';
import * as feedContract from './feed/contract.ts';
import { feedJobs } from './feed/jobs.ts';
import * as spreadsheetCommands from './spreadsheets/commands.ts';
import * as spreadsheets from './spreadsheets/contract.ts';
import * as webhooks from './webhooks/commands.ts';
import * as webhookContract from './webhooks/contract.ts';
import { webhookJobs } from './webhooks/deliver.ts';

export { epcisJobs, feedJobs };

/** @param parts what seals secrets, and whether webhooks may go to inside addresses (no, if left out) */
export function exchangeOperations(parts: {
  tokens: Tokens;
  webhookAllowPrivate?: boolean;
}): readonly BoundOperation[] {
  return [
    bind(feedContract.listEvents, feed.readEvents),
    bind(feedContract.listEventTypes, feed.readEventTypes),
    bind(webhookContract.createWebhook, webhooks.createWebhookCommand(parts)),
    bind(webhookContract.listWebhooks, webhooks.listWebhooksQuery),
    bind(webhookContract.getWebhook, webhooks.getWebhookQuery),
    bind(webhookContract.changeWebhook, webhooks.changeWebhookCommand(parts)),
    bind(webhookContract.createWebhookSecret, webhooks.createSecretCommand(parts)),
    bind(webhookContract.createWebhookReplay, webhooks.createReplayCommand),
    bind(webhookContract.createWebhookTest, webhooks.createTestCommand),
    bind(webhookContract.listWebhookDeliveries, webhooks.listDeliveriesQuery),
    bind(epcisContract.readEpcisDocument, epcis.readDocument),
    bind(spreadsheets.exportStock, spreadsheetCommands.writeStock),
    bind(spreadsheets.exportLots, spreadsheetCommands.writeLots),
    bind(spreadsheets.exportReceipts, spreadsheetCommands.writeReceipts),
    ...announcedOperations,
    ...epcisQueryOperations,
  ];
}

/** Background work of the exchange. */
export function exchangeJobs(parts: {
  db: Db;
  clock: Clock;
  tokens: Tokens;
  log: Log;
  webhookAllowPrivate?: boolean;
}): readonly Job[] {
  return [...feedJobs(parts), ...webhookJobs(parts), ...epcisJobs(parts)];
}
