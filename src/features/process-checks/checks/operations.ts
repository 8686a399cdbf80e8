/** Operations of checks that nothing above has a part in; taking and correcting them is bound where food is released. */
import { bind, type BoundOperation } from '../../../platform/http/contract.ts';
import * as contract from './contract-reads.ts';
import * as read from './read.ts';

export const checkOperations: readonly BoundOperation[] = [
  bind(contract.getProcessCheck, read.readCheck),
  bind(contract.listProcessChecks, read.readChecks),
  bind(contract.getProcessCheckSeries, read.readSeriesOf),
  bind(contract.getProcessCheckChart, read.readChart),
  bind(contract.listDeviations, read.readDeviations),
];
