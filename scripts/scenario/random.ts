/** Chance that is the same every time: each thing has a source of its own, by its name, so the order of work changes nothing. */

export interface Chance {
  /** 0 up to but not 1 */
  next(): number;
  /** a whole number from `least` to `most` */
  whole(least: number, most: number): number;
  /** true in `share` of all cases */
  happens(share: number): boolean;
}

/** FNV-1a, 32 bits. */
function hashOf(name: string): number {
  let hash = 0x811c9dc5;
  for (const byte of Buffer.from(name, 'utf8')) hash = Math.imul(hash ^ byte, 0x01000193) >>> 0;
  return hash;
}

/** Mulberry32, started by a name. */
export function chanceOf(name: string): Chance {
  let state = hashOf(name);
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
  return {
    next,
    whole: (least, most) => least + Math.floor(next() * (most - least + 1)),
    happens: (share) => next() < share,
  };
}
