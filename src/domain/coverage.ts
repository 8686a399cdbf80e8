/**
 * What was sent against what was required, in portions. Why pure: the receiving site, the kitchen and the pick list must read the same
 * numbers. What was accepted is recorded by dispatch and lot, not by line; where two lines of a dispatch carry the same lot it is
 * shared out in the order of the lines. Refusals: none.
 */

/** One line of a dispatch; `requirementId` null: it was sent without one. */
export interface SentLine {
  readonly dispatchId: string;
  readonly lineNo: number;
  readonly state: 'planned' | 'departed' | 'closed';
  readonly requirementId: string | null;
  readonly lotId: string;
  readonly packs: number;
  /** of the item that was sent, at least 1 */
  readonly portionsPerPack: number;
}

export interface Coverage {
  /** on dispatches that have not left */
  readonly plannedPortions: number;
  /** on dispatches that have left, those that arrived included */
  readonly departedPortions: number;
  /** found good on arrival */
  readonly receivedPortions: number;
  /** required and neither planned nor departed */
  readonly shortPortions: number;
  /** planned and departed beyond what is required */
  readonly overPortions: number;
}

/**
 * Coverage by requirement.
 * @param required portions by requirement id
 * @param lines all lines of every dispatch that carries anything for one of them
 * @param accepted packs found good, by `dispatchId|lotId`
 */
export function coverageOf(
  required: ReadonlyMap<string, number>,
  lines: readonly SentLine[],
  accepted: ReadonlyMap<string, number>,
): Map<string, Coverage> {
  const left = new Map(accepted);
  const sums = new Map([...required.keys()].map((id) => [id, { planned: 0, departed: 0, received: 0 }]));
  const inOrder = [...lines].sort((a, b) => a.lineNo - b.lineNo);
  for (const line of inOrder) {
    const key = `${line.dispatchId}|${line.lotId}`;
    const good = Math.min(line.packs, Math.max(0, left.get(key) ?? 0));
    left.set(key, (left.get(key) ?? 0) - good);
    const sum = line.requirementId === null ? undefined : sums.get(line.requirementId);
    if (!sum) continue;
    if (line.state === 'planned') sum.planned += line.packs * line.portionsPerPack;
    else {
      sum.departed += line.packs * line.portionsPerPack;
      sum.received += good * line.portionsPerPack;
    }
  }
  return new Map(
    [...sums].map(([id, { planned, departed, received }]) => {
      const wanted = required.get(id) ?? 0;
      return [
        id,
        {
          plannedPortions: planned,
          departedPortions: departed,
          receivedPortions: received,
          shortPortions: Math.max(0, wanted - planned - departed),
          overPortions: Math.max(0, planned + departed - wanted),
        },
      ];
    }),
  );
}
