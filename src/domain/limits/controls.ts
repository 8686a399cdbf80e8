/**
 * Controlling factors of vacuum-packed chilled food: what somebody has signed about a batch, and whether that lifts the 10 days. Heat counts
 * by the published table of equivalents to 90 °C for 10 minutes, from 85 °C up: below it a published experiment needed far longer than the table
 * says. pH, salt and water activity are thresholds from memory, so they count only where the rule is confirmed for the site.
 */
import table from '../../../shared/policies/heat-equivalents.json' with { type: 'json' };
import { numberOf, whySilent, type SitePolicy } from './policies.ts';

const LEAST_HEAT_C = 85;

export interface ControlFactor {
  readonly factor: 'heat' | 'ph' | 'salt' | 'water-activity';
  /** heat: core temperature in °C; salt: percent in the water */
  readonly value: number;
  /** heat: how long at that temperature or more */
  readonly minutes: number | null;
  readonly signedBy: string;
}

/** Minutes at a core temperature that count like 90 °C for 10 minutes; null where the table is not taken. Between rows the colder one counts. */
export function heatMinutes(temperatureC: number): number | null {
  if (temperatureC < LEAST_HEAT_C) return null;
  const row = [...table.rows].reverse().find((one) => one.temperatureC <= temperatureC);
  return row?.minutes ?? null;
}

/** Null: it lifts the 10 days. Else why it does not. */
export function whyNotControlled(statement: ControlFactor, policy: SitePolicy): string | null {
  const rule = policy.set.rules.find((one) => one.kind === 'controls');
  if (!rule) return `The rules of ${policy.set.title} name no controlling factor.`;
  if (statement.factor === 'heat') {
    const minutes = heatMinutes(statement.value);
    if (minutes === null) return `Heat below ${LEAST_HEAT_C} °C is not taken as a controlling factor.`;
    return (statement.minutes ?? 0) >= minutes ? null : `At that temperature ${minutes} minutes are wanted.`;
  }
  const silent = whySilent(rule, policy);
  if (silent) return silent;
  switch (statement.factor) {
    case 'ph':
      return statement.value <= numberOf(rule, 'mostPh') ? null : 'The pH is too high.';
    case 'salt':
      return statement.value >= numberOf(rule, 'leastSaltPercent') ? null : 'There is too little salt.';
    case 'water-activity':
      return statement.value <= numberOf(rule, 'mostWaterActivity') ? null : 'The water activity is too high.';
  }
}
