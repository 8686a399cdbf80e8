/** Capture and announced deliveries, bound. */
import { bind, bindRaw, type BoundOperation } from '../../../platform/http/contract.ts';
import { linkReceipt, readDeliveries, readDelivery } from './commands.ts';
import { captureDocument, readCapture, receiveDocument } from './commands-capture.ts';
import * as contract from './contract.ts';
import { captureEpcis, getEpcisCapture } from './contract-capture.ts';

export const announcedOperations: readonly BoundOperation[] = [
  bindRaw(captureEpcis, receiveDocument, captureDocument),
  bind(getEpcisCapture, readCapture),
  bind(contract.listAnnouncedDeliveries, readDeliveries),
  bind(contract.getAnnouncedDelivery, readDelivery),
  bind(contract.receiveAnnouncedDelivery, linkReceipt),
];
