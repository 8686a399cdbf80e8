/** The only door to tracing: walks with quantities, and their picture; who could have eaten it. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { readTrace } from './commands.ts';
import { getLotServings } from './contract-servings.ts';
import { getLotReach } from './contract-reach.ts';
import { traceLot } from './contract.ts';
import { readReach } from './reach.ts';
import { readServings } from './servings.ts';

export { Quantities, Where } from './contract.ts';
export { element, escapeXml, textElement, textWidthPx, wrapText } from './trace-svg-parts.ts';
export { quantitiesOfLots } from './lot-quantities.ts';
export { sitesOf, totalOf } from './reach.ts';
export { scopeStanding, type ScopeStanding } from './standing.ts';

export const tracingOperations: readonly BoundOperation[] = [
  bind(traceLot, readTrace),
  bind(getLotReach, readReach),
  bind(getLotServings, readServings),
];
