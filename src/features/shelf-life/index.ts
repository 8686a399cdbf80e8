/** The only door to shelf life: what warmth takes from a life. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { answerProjection } from './commands.ts';
import { projectShelfLife } from './contract.ts';

export const shelfLifeOperations: readonly BoundOperation[] = [bind(projectShelfLife, answerProjection)];
