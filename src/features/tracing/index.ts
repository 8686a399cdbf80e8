/** The only door to tracing: walks with quantities, and their picture; who could have eaten it. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { readTrace } from './commands.ts';
import { getLotServings } from './contract-servings.ts';
import { traceLot } from './contract.ts';
import { readServings } from './servings.ts';

export { Quantities, Where } from './contract.ts';
export { quantitiesOfLots } from './lot-quantities.ts';
export { element, escapeXml, textElement, textWidthPx, wrapText } from './trace-svg-parts.ts';

export const tracingOperations: readonly BoundOperation[] = [
  bind(traceLot, readTrace),
  bind(getLotServings, readServings),
];
