/** Quantities and times as people read them. */

export function amountText(quantity: number, unit: string): string {
  if (unit === 'piece') return `${quantity} ${quantity === 1 ? 'piece' : 'pieces'}`;
  if (unit === 'g' && Math.abs(quantity) >= 10_000) return `${quantity / 1000} kg`;
  if (unit === 'ml' && Math.abs(quantity) >= 10_000) return `${quantity / 1000} l`;
  return `${quantity} ${unit}`;
}

/** Summed by unit: 12 pieces, 3400 g. */
export function amountsText(amounts: readonly { readonly quantity: number; readonly unit: string }[]): string {
  const sums = new Map<string, number>();
  for (const { quantity, unit } of amounts) sums.set(unit, (sums.get(unit) ?? 0) + quantity);
  return [...sums].map(([unit, quantity]) => amountText(quantity, unit)).join(', ');
}
