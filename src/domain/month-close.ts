/**
 * Whether a month may be closed, and what its signature covers. Refusals: `month-closed`, `month-not-ended`, `month-not-oldest`,
 * `rule-broken` (a first month before anything was recorded), `checks-open`, `two-people-needed`, `wrong-state`.
 */
import { Refused } from './errors.ts';
import { monthBounds } from './time.ts';

/** Months are written 2026-10. */
export interface ClosingState {
  /** months whose close counts, the earliest first, without a gap */
  readonly closed: readonly string[];
  /** the earliest month that was ever closed, reopened or not */
  readonly firstEverClosed: string | null;
  /** of the first fact by its own time; null: nothing is recorded */
  readonly firstFactMonth: string | null;
  /** the date at each site now */
  readonly today: readonly { readonly siteName: string; readonly date: string }[];
}

export const monthAfter = (month: string): string => monthBounds(month).to.slice(0, 7);

function pointedAtMonth(code: 'month-closed' | 'month-not-ended' | 'month-not-oldest' | 'rule-broken', detail: string) {
  return new Refused(code, detail, { errors: [{ detail, pointer: '#/month' }] });
}

/** @throws Refused when the month cannot be closed now */
export function requireClosable(month: string, state: ClosingState): void {
  const first = state.closed[0];
  const last = state.closed.at(-1);
  if (last !== undefined && month <= last) {
    const together = first !== undefined && month < first ? ` together with ${first}, the first one` : '';
    throw pointedAtMonth('month-closed', `${month} is closed${together}. What is told now goes to the open month.`);
  }
  const { to } = monthBounds(month);
  const behind = state.today.find(({ date }) => date < to);
  if (behind) {
    throw pointedAtMonth(
      'month-not-ended',
      `At ${behind.siteName} it is ${behind.date}; ${month} ends there before ${to}.`,
    );
  }
  const due = last === undefined ? state.firstEverClosed : monthAfter(last);
  if (due !== null && month > due) throw pointedAtMonth('month-not-oldest', `${due} is open and comes first.`);
  // A slip of the year would otherwise close a month long ago, and each one since would have to be closed after it.
  if (last === undefined && (state.firstFactMonth === null || monthAfter(month) < state.firstFactMonth)) {
    const began =
      state.firstFactMonth === null ? 'Nothing is recorded yet.' : `Records begin in ${state.firstFactMonth}.`;
    throw pointedAtMonth('rule-broken', `${began} The first month to close may be that one or the one before it.`);
  }
}

export interface Acceptance {
  readonly check: string;
  readonly reason: string;
}

/**
 * Of what was accepted, what had to be. Accepting what turned out not to block says nothing about the month, so it is not kept.
 * @throws Refused `checks-open` with the checks that block and were not accepted
 */
export function requireAccepted<
  C extends { readonly check: string; readonly blocking: boolean; readonly count: number },
>(checks: readonly C[], accepted: readonly Acceptance[]): Acceptance[] {
  const blocking = checks.filter((check) => check.blocking);
  const open = blocking.filter(({ check }) => !accepted.some((one) => one.check === check));
  if (open.length > 0) {
    const names = open.map(({ check, count }) => `${check} (${count})`).join(', ');
    throw new Refused('checks-open', `Open: ${names}.`, { members: { checks: open } });
  }
  return accepted
    .filter((one, at) => accepted.findIndex(({ check }) => check === one.check) === at)
    .filter((one) => blocking.some(({ check }) => check === one.check));
}

/** @throws Refused unless the close is the newest that counts, and another person than the one who asked confirms */
export function requireReopenable(asked: {
  readonly closeId: string;
  readonly month: string;
  readonly newest: { readonly closeId: string; readonly month: string } | null;
  /** left out while it is asked for */
  readonly people?: { readonly askedBy: string; readonly confirmedBy: string };
}): void {
  const { closeId, month, newest, people } = asked;
  if (newest?.closeId !== closeId) {
    const why =
      newest !== null && newest.month > month
        ? `${newest.month} was closed after it and would have to be reopened first.`
        : 'That close does not count any more.';
    throw new Refused('wrong-state', why);
  }
  if (people && people.askedBy === people.confirmedBy) {
    throw new Refused('two-people-needed', 'You asked for it yourself; somebody else has to confirm it.');
  }
}

/** What the hash of a close is taken of, in its RFC 8785 form. Hashes are in lower-case hex. */
export function signedContent(close: {
  readonly month: string;
  readonly cut: { readonly seq: number; readonly moneyNo: number };
  readonly reportSha256: string;
  readonly checks: unknown;
  readonly accepted: unknown;
  readonly previousHash: string | null;
}): Record<string, unknown> {
  const { month, cut, reportSha256, checks, accepted, previousHash } = close;
  return { month, cut: { seq: cut.seq, moneyNo: cut.moneyNo }, reportSha256, checks, accepted, previousHash };
}
