/** A closed month beside what is known of it now. Refusals: none. */

/** Of one line; null where a line has no quantity of its own. */
interface Amounts {
  readonly quantity: number | null;
  readonly grams: number | null;
  readonly valueMinor: number;
}

type Lines = Readonly<Record<string, number>>;

interface RestatedItem {
  readonly itemId: string;
  readonly itemCode: string;
  readonly itemName: string;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly inUnits: Lines;
  readonly inGrams: Lines;
  readonly inMoney: Lines;
}

export interface Side {
  readonly items: readonly RestatedItem[];
  readonly totals: { readonly inGrams: Lines; readonly inMoney: Lines };
}

export interface Compared {
  readonly closed: Amounts;
  readonly now: Amounts;
  readonly difference: Amounts;
}

export interface RestatedRow extends Compared {
  readonly itemId: string;
  readonly itemCode: string;
  readonly itemName: string;
  readonly unit: RestatedItem['unit'];
  readonly line: string;
}

const NOTHING: Lines = {};

/** An item that is not in a report stands at zero on every line; a line that only money has stays null in quantity. */
function amountsOf(
  item: Pick<RestatedItem, 'inUnits' | 'inGrams' | 'inMoney'>,
  line: string,
  moneyOnly: boolean,
): Amounts {
  return {
    quantity: moneyOnly ? null : (item.inUnits[line] ?? 0),
    grams: moneyOnly ? null : (item.inGrams[line] ?? 0),
    valueMinor: item.inMoney[line] ?? 0,
  };
}

const minus = (a: number | null, b: number | null): number | null => (a === null || b === null ? null : a - b);

function compare(closed: Amounts, now: Amounts): Compared {
  const difference = {
    quantity: minus(now.quantity, closed.quantity),
    grams: minus(now.grams, closed.grams),
    valueMinor: now.valueMinor - closed.valueMinor,
  };
  return { closed, now, difference };
}

const differs = ({ difference }: Compared): boolean =>
  [difference.quantity, difference.grams, difference.valueMinor].some((amount) => amount !== null && amount !== 0);

/**
 * Rows that differ, by item code and then in the order of the lines; and the totals of every line, whether they differ or not.
 * @param moneyLines every line, in printing order
 * @param quantityLines those of them that quantities have too
 */
export function restate(
  closed: Side,
  now: Side,
  moneyLines: readonly string[],
  quantityLines: readonly string[],
): { rows: RestatedRow[]; totals: (Compared & { readonly line: string })[] } {
  const moneyOnly = (line: string): boolean => !quantityLines.includes(line);
  const before = new Map(closed.items.map((item) => [item.itemId, item]));
  const after = new Map(now.items.map((item) => [item.itemId, item]));
  const items = [...new Map([...before, ...after]).values()];
  items.sort((a, b) => (a.itemCode < b.itemCode ? -1 : a.itemCode > b.itemCode ? 1 : 0));
  const none = { inUnits: NOTHING, inGrams: NOTHING, inMoney: NOTHING };
  const rows = items.flatMap(({ itemId, itemCode, itemName, unit }) =>
    moneyLines
      .map((line) => {
        const was = amountsOf(before.get(itemId) ?? none, line, moneyOnly(line));
        const is = amountsOf(after.get(itemId) ?? none, line, moneyOnly(line));
        return { itemId, itemCode, itemName, unit, line, ...compare(was, is) };
      })
      .filter(differs),
  );
  const sumOf = (side: Side, line: string): Amounts => ({
    // units of different items do not add up
    quantity: null,
    grams: moneyOnly(line) ? null : (side.totals.inGrams[line] ?? 0),
    valueMinor: side.totals.inMoney[line] ?? 0,
  });
  const totals = moneyLines.map((line) => ({ line, ...compare(sumOf(closed, line), sumOf(now, line)) }));
  return { rows, totals };
}
