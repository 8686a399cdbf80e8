/**
 * Who may print what. A label is an invitation to use the food, so none is made for food that may not be used, unless it says just that
 * (a quarantine label). A label that was made before is made again only for a reason, because two labels of one serial are two packs to a
 * scanner. A label that is copied from a sister pack is only as good as the eyes that compared them: a second person looks.
 *
 * Refusals: `on-hold`, `past-use-by`, `label-reason-missing`, `second-person-needed`, `serials-do-not-fit`, `rule-broken`.
 */
import holdTable from '../../../shared/holds.json' with { type: 'json' };
import reasonTable from '../../../shared/label-reasons.json' with { type: 'json' };
import { Refused } from '../errors.ts';

export type PrintReason = keyof typeof reasonTable.reasons;
export const printReasons = Object.keys(reasonTable.reasons) as readonly PrintReason[];

/** Holds that leave labelling alone: the night shift labels what waits for release, and what lacks an allergen needs its label most. */
const silent = new Set(
  holdTable.kinds.filter((kind) => !kind.blocks.includes('use-in-batch')).map((kind) => kind.code),
);

interface HoldOnLot {
  readonly holdId: string;
  readonly kind: string;
  readonly rootLotId: string;
}

export interface PacksOfLot {
  readonly lotCode: string;
  readonly serialised: boolean;
  /** packs, or an amount of loose food that may stand in any number of containers */
  readonly pieces: boolean;
  /** packs at birth */
  readonly quantity: number;
}

export interface LotToLabel {
  readonly lotCode: string;
  /** open ones that reach the lot */
  readonly holds: readonly HoldOnLot[];
  /** the date that would be printed; null: none is known */
  readonly useByMs: number | null;
}

/** The refusal that stands against any label but a quarantine label, be it drawn or recorded. */
export function labelRefusal(lot: LotToLabel, quarantine: boolean, nowMs: number): Refused | null {
  if (quarantine) return null;
  const holds = lot.holds.filter((hold) => !silent.has(hold.kind));
  if (holds.length > 0) {
    const kinds = new Set(holds.map((hold) => hold.kind));
    const labels = holdTable.kinds.filter((kind) => kinds.has(kind.code)).map((kind) => kind.label.toLowerCase());
    const detail = `Lot ${lot.lotCode} is on hold (${labels.join(', ')}): only a quarantine label is printed for it.`;
    return new Refused('on-hold', detail, { members: { holds } });
  }
  if (lot.useByMs === null) return new Refused('rule-broken', `Lot ${lot.lotCode} has no use-by to print.`);
  if (nowMs >= lot.useByMs) {
    const detail = `Lot ${lot.lotCode} is past its use-by: only a quarantine label is printed for it. Discard it.`;
    return new Refused('past-use-by', detail);
  }
  return null;
}

export interface PrintAsked {
  /** null: none was given */
  readonly reason: PrintReason | null;
  /** what a label of the lot should say another date for: the prints before it no longer hold */
  readonly relabel: boolean;
  readonly serials: readonly (string | null)[];
  readonly copies: number;
  readonly sister: { readonly serial: string; readonly secondPersonId: string | null } | null;
  readonly actorId: string;
}

export interface PrintedBefore {
  /** of those asked for */
  readonly serials: ReadonlySet<string>;
  /** of a counted lot: labels in all */
  readonly labels: number;
}

/** What the print is for: as said, or a first one. */
export function reasonOf(asked: Pick<PrintAsked, 'reason' | 'relabel'>): PrintReason {
  if (asked.relabel) return 'relabel';
  return asked.reason ?? 'first';
}

/**
 * Labels of one lot. A serialised lot has one for each serial; of a counted lot the first labels are as many as it has packs;
 * loose food has a label for each container that it is in, all printed at once.
 * @param before what was printed of it up to now
 */
export function printRefusal(lot: PacksOfLot, asked: PrintAsked, before: PrintedBefore): Refused | null {
  const reason = reasonOf(asked);
  const sisterRefused = sisterRefusal(lot, asked, reason);
  if (sisterRefused) return sisterRefused;
  if (lot.serialised && asked.copies > 1 && reason === 'first') {
    return missing(
      `Each pack of lot ${lot.lotCode} has one label of its own: say why you need ${asked.copies} of each.`,
    );
  }
  if (reason !== 'first') return null;
  const again = asked.serials.filter((serial) => serial !== null && before.serials.has(serial));
  if (again.length > 0) {
    const some = again.slice(0, 5).join(', ') + (again.length > 5 ? ', ...' : '');
    return missing(`Labels of lot ${lot.lotCode} were printed before: serial ${some}.`, again.slice(0, 20) as string[]);
  }
  if (!lot.pieces && before.labels > 0) return missing(`Labels of lot ${lot.lotCode} were printed before.`);
  if (lot.pieces && !lot.serialised && before.labels + asked.copies > lot.quantity) {
    const printed = before.labels === 0 ? '' : `, and ${before.labels} labels were printed`;
    return missing(`Lot ${lot.lotCode} has ${lot.quantity} packs${printed}: say what the further labels are for.`);
  }
  return null;
}

function missing(detail: string, serials?: readonly string[]): Refused {
  const errors = [{ detail, pointer: '#/reason' }];
  return new Refused('label-reason-missing', detail, {
    errors,
    ...(serials && { members: { printedBefore: serials } }),
  });
}

function sisterRefusal(lot: PacksOfLot, asked: PrintAsked, reason: PrintReason): Refused | null {
  const { sister } = asked;
  if (sister === null) return null;
  const at = (code: 'rule-broken' | 'serials-do-not-fit' | 'second-person-needed', detail: string, pointer: string) =>
    new Refused(code, detail, { errors: [{ detail, pointer }] });
  if (!reasonTable.reasons[reason].fromSister) {
    return at(
      'rule-broken',
      'A sister pack is read in place of a label that cannot be read, and only then.',
      '#/sister',
    );
  }
  if (sister.secondPersonId === null || sister.secondPersonId === asked.actorId) {
    const detail = 'A label copied from a sister pack is confirmed by another person who saw both packs.';
    return at('second-person-needed', detail, '#/sister/secondPersonId');
  }
  if (!lot.serialised) {
    const detail = `Lot ${lot.lotCode} is counted; its packs have no serials.`;
    return at('serials-do-not-fit', detail, '#/sister/serial');
  }
  if (Number(sister.serial) > lot.quantity) {
    const detail = `Lot ${lot.lotCode} has the serials 1 to ${lot.quantity}, not ${sister.serial}.`;
    return at('serials-do-not-fit', detail, '#/sister/serial');
  }
  if (asked.serials.includes(sister.serial)) {
    return at(
      'serials-do-not-fit',
      'The sister is another pack than the one whose label is printed.',
      '#/sister/serial',
    );
  }
  return null;
}

export interface PrintOfPack {
  readonly printId: string;
  /** the date on that label; null: a quarantine label */
  readonly useByMs: number | null;
}

/**
 * Which of the prints of one pack no longer hold, and by which print: the last one rules, and whatever says a later date than it is
 * superseded, or says a date where the last one says not to use it at all. A reprint with the same date supersedes nothing: both labels
 * tell the truth. So does one with an earlier date than the last, once a quality lead has accepted a later date.
 * @param prints in the order in which they were made
 * @returns by superseded print, the one that holds
 */
export function supersededPrints(prints: readonly PrintOfPack[]): Map<string, string> {
  const last = prints[prints.length - 1];
  if (!last) return new Map();
  return new Map(prints.filter((one) => endOf(one) > endOf(last)).map((one) => [one.printId, last.printId]));
}

const endOf = ({ useByMs }: PrintOfPack): number => useByMs ?? Number.NEGATIVE_INFINITY;

/**
 * Labels of crates. A crate may have several equal ones, on two of its sides; another print of one that has a label needs a reason.
 * @param printed codes that were printed before
 */
export function cratePrintRefusal(
  codes: readonly string[],
  reason: PrintReason,
  printed: ReadonlySet<string>,
): Refused | null {
  const again = codes.find((code) => printed.has(code));
  if (reason !== 'first' || again === undefined) return null;
  return missing(`The label of crate ${again} was printed before.`);
}
