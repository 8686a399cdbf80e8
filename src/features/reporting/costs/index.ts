/** What lots cost, for the rest of reporting. */
export { FINE_PER_MINOR } from '../../../domain/costing/shapes.ts';
export { minorDigitsOf } from './currency.ts';
export { loadCostBatches, loadCostLots, ratesSummed } from './facts.ts';
export { costsOfBatches, moneyOfProcesses, type BatchCost, type ProcessMoney } from './processes.ts';
export { reckonCostsJob, refreshCosts } from './refresh.ts';
export { costAt } from './store.ts';
export { findUnitCosts, listChangedLots, loadCosts, type CostView } from './view.ts';
export { listUncostedOfMonth } from './uncosted-month.ts';
