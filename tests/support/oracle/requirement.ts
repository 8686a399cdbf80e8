/**
 * How much of every bought item one unit of a product needs (A. Vazsonyi's Gozinto graph: the total requirement is the sum, over all paths,
 * of the products of the quantities along each path). Every path is walked by itself: slow, and nothing like adding up level by level.
 */
import Fraction from 'fraction.js';

/** What goes into one unit of each made item; what is not listed is bought. */
export type RecipeTree = Readonly<Record<string, Readonly<Record<string, Fraction>>>>;

interface Path {
  readonly items: readonly string[];
  readonly product: Fraction;
}

/** Every way from the product down to something bought. */
export function pathsFrom(tree: RecipeTree, itemId: string): Path[] {
  const needs = tree[itemId];
  if (needs === undefined) return [{ items: [itemId], product: new Fraction(1) }];
  return Object.entries(needs).flatMap(([inputId, quantity]) =>
    pathsFrom(tree, inputId).map((path) => ({
      items: [itemId, ...path.items],
      product: path.product.mul(quantity),
    })),
  );
}

export function requirementOf(tree: RecipeTree, itemId: string): Map<string, Fraction> {
  const sums = new Map<string, Fraction>();
  for (const { items, product } of pathsFrom(tree, itemId)) {
    const bought = items.at(-1) ?? '';
    sums.set(bought, (sums.get(bought) ?? new Fraction(0)).add(product));
  }
  return sums;
}
