/** How a place is watched where nobody has said: by its kind, from shared/policies/place-defaults.json, which says where each number is from. */
import table from '../../../shared/policies/place-defaults.json' with { type: 'json' };
import type { Between, Monitoring } from './shapes.ts';

export type PlaceKind = keyof typeof table.placeDefaults;

const centi = (temperature: { readonly value: number } | null): number | null =>
  temperature === null ? null : Math.round(temperature.value * 100);

/** Vehicles and crates on the road are watched as `vehicle`. */
export function defaultMonitoring(kind: PlaceKind): Monitoring {
  const one = table.placeDefaults[kind];
  return {
    how: one.how as Monitoring['how'],
    upperCentiC: centi(one.upperC) as number,
    lowerCentiC: centi(one.lowerC),
    assumedCentiC: centi(one.assumedC),
    between: one.between.value as Between,
    gapMs: one.gapMin.value * 60_000,
    delayMs: one.delayMin.value * 60_000,
    lagMs: one.lagMin.value * 60_000,
    version: 0,
  };
}

/** Where the default's upper limit comes from, and how sure that is. */
export function defaultSource(kind: PlaceKind): { readonly source: string; readonly basis: string } {
  const { source, basis } = table.placeDefaults[kind].upperC;
  return { source, basis };
}
