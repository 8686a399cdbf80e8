/**
 * What a PIN must not be, and how a badge is kept. A PIN is short, so it is worth something only where guesses are counted: on a tablet.
 * The ones refused here are those that people choose most (runs, one digit, halves that repeat, years): from memory.
 */
import { createHash } from 'node:crypto';

const SHAPE = /^[0-9]{4,8}$/;
const YEAR = /^(19|20)[0-9]{2}$/;

/** Every step from a digit to the next is the same: 4444, 1234, 8765, 7890. */
function evenSteps(pin: string): boolean {
  const steps = [...pin].slice(1).map((digit, at) => (Number(digit) - Number(pin[at]) + 10) % 10);
  return [0, 1, 9].some((step) => steps.every((one) => one === step));
}

function halvesRepeat(pin: string): boolean {
  const half = pin.length / 2;
  return Number.isInteger(half) && pin.slice(0, half) === pin.slice(half);
}

/** Eight digits that are somebody's day of birth: day, month, year or year, month, day. */
function isDate(pin: string): boolean {
  if (pin.length !== 8) return false;
  const [day, month, year] = [pin.slice(0, 2), pin.slice(2, 4), pin.slice(4)];
  const [year2, month2, day2] = [pin.slice(0, 4), pin.slice(4, 6), pin.slice(6)];
  const fits = (y: string, m: string, d: string) => YEAR.test(y) && /^(0[1-9]|1[0-2])$/.test(m) && /^[0-3]/.test(d);
  return fits(year, month, day) || fits(year, day, month) || fits(year2, month2, day2);
}

/** What is wrong with it, for a person; null when nothing is. */
export function pinFault(pin: string, signInName: string): string | null {
  if (!SHAPE.test(pin)) return 'It must have 4 to 8 digits.';
  if (evenSteps(pin)) return 'One digit repeated, or digits in a row, are tried first.';
  if (halvesRepeat(pin)) return 'It repeats itself.';
  if (YEAR.test(pin) || isDate(pin)) return 'Years and dates of birth are tried first.';
  if (pin === signInName) return 'It is the sign-in name.';
  return null;
}

/**
 * With the group, so that one badge used in two groups does not show in the tables. A quick hash, because a reader reads the whole badge:
 * it hides badges that are long and random, not numbers that are counted up.
 */
export function badgeHashOf(groupId: string, badge: string): Buffer {
  return createHash('sha256').update(`${groupId}:${badge}`).digest();
}
