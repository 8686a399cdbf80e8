/** Ids of crates follow from the request that made them and their place in it. */
import { derivedId } from '../../../platform/ids.ts';

/** @param position from 1 */
export const crateIdOf = (orderId: string, position: number): string => derivedId(`crate-${position}`, orderId);
