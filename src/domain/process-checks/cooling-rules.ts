/** How fast food has to become cold, from shared/policies/cooling-rules.json. Rules written in Fahrenheit are converted here, exactly as a series is. */
import file from '../../../shared/policies/cooling-rules.json' with { type: 'json' };
import { Refused } from '../errors.ts';
import { celsiusOf } from './fahrenheit.ts';
import type { CoolingPoint, CoolingRule, Source } from './shapes.ts';
import type { SourcedNumber } from './targets.ts';

interface FiledPoint extends Pick<CoolingPoint, 'code' | 'label' | 'withinMinutes'> {
  readonly fromC?: number | null;
  readonly toC?: number;
  readonly fromF?: number;
  readonly toF?: number;
}

/** When chilling has to begin, which a series that begins with chilling does not show. */
interface Beginning extends Source {
  readonly withinMinutes: number;
  readonly text: string;
}

interface FiledRule extends Source {
  readonly code: string;
  readonly label: string;
  readonly jurisdictions: readonly string[];
  readonly defaultFor: readonly string[];
  readonly byChoice: boolean;
  readonly points: readonly FiledPoint[];
  readonly numbers: readonly SourcedNumber[];
  readonly begins: Beginning | null;
  /** it is a rule for food that was hot */
  readonly heated: boolean;
  readonly scope: string;
  readonly note: string;
}

const FILED = file.rules as unknown as readonly FiledRule[];

/** A rule with all that is told of it. */
export interface ToldRule
  extends CoolingRule, Pick<FiledRule, 'jurisdictions' | 'defaultFor' | 'byChoice' | 'begins' | 'heated'> {
  readonly numbers: readonly SourcedNumber[];
  readonly scope: string;
  readonly note: string;
}

/** What stands above the rules. */
export const coolingRulesFile = { note: file.note, confirmBy: file.confirmBy };

export const toldRules = (): ToldRule[] =>
  FILED.map((filed) => {
    const { jurisdictions, defaultFor, byChoice, numbers, begins, heated, scope, note } = filed;
    return { ...ruleOf(filed), jurisdictions, defaultFor, byChoice, numbers, begins, heated, scope, note };
  });

/** @throws Refused rule-broken that names the codes there are */
export function coolingRule(code: string): CoolingRule {
  const filed = FILED.find((one) => one.code === code);
  if (!filed) {
    const codes = FILED.map((one) => one.code).join(', ');
    throw new Refused('rule-broken', `No cooling rule has the code ${code}. There are: ${codes}.`, {
      errors: [{ detail: 'unknown rule', pointer: '#/rule' }],
    });
  }
  return ruleOf(filed);
}

/** The rule of a jurisdiction (ISO 3166), its own or its country's; null where none is known. */
export function coolingRuleOf(jurisdiction: string): CoolingRule | null {
  const of = (wanted: string) => FILED.find(({ defaultFor }) => defaultFor.includes(wanted));
  const filed = of(jurisdiction) ?? of(jurisdiction.slice(0, 2));
  return filed ? ruleOf(filed) : null;
}

/** What is told of a rule beyond its points; null for one of somebody's own. */
export const toldOf = (code: string): ToldRule | null => toldRules().find((one) => one.code === code) ?? null;

/** What a series of hot food has to show somewhere where its rule names no temperature to start from. */
export const HOT_C = file.hot.temperatureC;

/** Whether it is for hot food: every rule but those that say otherwise, one of somebody's own as well. */
export const isOfHotFood = (code: string): boolean => FILED.find((one) => one.code === code)?.heated ?? true;

function ruleOf({ code, label, points, source, edition, basis }: FiledRule): CoolingRule {
  return { code, label, points: points.map(pointOf), source: { source, edition, basis } };
}

function pointOf({ code, label, withinMinutes, fromC, toC, fromF, toF }: FiledPoint): CoolingPoint {
  return {
    code,
    label,
    fromC: fromF === undefined ? (fromC ?? null) : celsiusOf(fromF),
    toC: toF === undefined ? (toC ?? NaN) : celsiusOf(toF),
    withinMinutes,
  };
}
