/** Packs that one drop of a van run misses and another has too many of. Pure; it shows, and posts nothing. */

/** One lot at one drop. */
export interface DropBalance {
  readonly dispatchId: string;
  readonly lotId: string;
  readonly lotCode: string;
  /** sent and not found; below zero: more was found than was sent */
  readonly inTransit: number;
  /** its receipt is closed: what is still in transit is missing */
  readonly closed: boolean;
  /** its departure is known; before that, all that is found would be too much */
  readonly departed: boolean;
}

export interface WrongDrop {
  readonly lotId: string;
  readonly lotCode: string;
  readonly missingAtDispatchId: string;
  readonly overAtDispatchId: string;
  readonly quantity: number;
}

/**
 * Pairs in drop order, each pack once: of five missing at the first drop, two over at the second and three over at the third, there are two
 * pairs.
 * @param balances in drop order
 */
export function likelyWrongDrops(balances: readonly DropBalance[]): WrongDrop[] {
  const pairs: WrongDrop[] = [];
  const over = balances
    .filter((one) => one.departed && one.inTransit < 0)
    .map((one) => ({ ...one, left: -one.inTransit }));
  for (const short of balances) {
    if (!short.closed || !short.departed || short.inTransit <= 0) continue;
    let wanted = short.inTransit;
    for (const there of over) {
      if (there.lotId !== short.lotId) continue;
      const quantity = Math.min(wanted, there.left);
      if (quantity === 0) continue;
      wanted -= quantity;
      there.left -= quantity;
      const { lotId, lotCode } = short;
      pairs.push({
        lotId,
        lotCode,
        missingAtDispatchId: short.dispatchId,
        overAtDispatchId: there.dispatchId,
        quantity,
      });
    }
  }
  return pairs;
}
