/** Chance from a seed: the same story for the same number. */
export interface Dice {
  /** from 0 up to, but not, 1 */
  readonly roll: () => number;
  readonly whole: (least: number, most: number) => number;
  readonly oneOf: <T>(all: readonly T[]) => T;
  readonly chance: (share: number) => boolean;
  readonly uuid: () => string;
}

/** mulberry32 */
export function diceOf(seed: number): Dice {
  let state = seed >>> 0;
  const roll = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = state;
    mixed = Math.imul(mixed ^ (mixed >>> 15), mixed | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
  const hex = (length: number): string => Array.from({ length }, () => Math.floor(roll() * 16).toString(16)).join('');
  return {
    roll,
    whole: (least, most) => least + Math.floor(roll() * (most - least + 1)),
    oneOf: <T>(all: readonly T[]) => {
      const one = all[Math.floor(roll() * all.length)];
      if (one === undefined) throw new Error('nothing to choose from');
      return one;
    },
    chance: (share) => roll() < share,
    uuid: () => `${hex(8)}-${hex(4)}-4${hex(3)}-9${hex(3)}-${hex(12)}`,
  };
}
