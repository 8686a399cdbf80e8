/**
 * What must and must not stand beside what. GS1 judges this over all symbols on the thing together, so on a scan it can only be a
 * warning; on a label that we make it is an error.
 */
import { requireElements } from './element-strings.ts';
import { type Gs1Element, identifierNamed } from './identifiers.ts';

export interface ScanWarning {
  readonly code: string;
  /** the identifier it is about */
  readonly ai?: string;
  /** for a person */
  readonly text: string;
}

/** `n` in a pattern stands for any digit. */
function matches(pattern: string, ai: string): boolean {
  if (!pattern.endsWith('n')) return pattern === ai;
  return pattern.length === ai.length && ai.startsWith(pattern.slice(0, pattern.indexOf('n')));
}

const has = (elements: readonly Gs1Element[], pattern: string): boolean =>
  elements.some(({ ai }) => matches(pattern, ai));

const isMet = (elements: readonly Gs1Element[], need: string): boolean =>
  need.split('+').every((pattern) => has(elements, pattern));

const SIGNATURE = '8030';
/** keys whose serial part may be missing, and their length without it */
const SERIAL_OPTIONAL: Readonly<Record<string, number>> = { '253': 13, '255': 13, '8003': 14 };

function repeats(elements: readonly Gs1Element[]): ScanWarning[] {
  const first = new Map<string, string>();
  const told = new Set<string>();
  for (const { ai, value } of elements) {
    const before = first.get(ai);
    if (before === undefined) first.set(ai, value);
    else if (before !== value) told.add(ai);
  }
  return [...told].map((ai) => ({
    code: 'repeated-otherwise',
    ai,
    text: `(${ai}) is there more than once, with different values.`,
  }));
}

function unsignedSerials(elements: readonly Gs1Element[]): ScanWarning[] {
  if (!has(elements, SIGNATURE)) return [];
  return elements
    .filter(({ ai, value }) => value.length === SERIAL_OPTIONAL[ai])
    .map(({ ai }) => ({ code: 'needs-serial', ai, text: `(${ai}) needs its serial beside (${SIGNATURE}).` }));
}

/** Every broken association, once each; empty when there is none. Values are taken as right. */
export function associationWarnings(elements: readonly Gs1Element[]): ScanWarning[] {
  const warnings = repeats(elements);
  for (const { ai } of elements) {
    const identifier = identifierNamed(ai);
    if (identifier === undefined) continue;
    const { needs, notWith } = identifier;
    if (needs.length > 0 && !needs.some((need) => isMet(elements, need))) {
      warnings.push({ code: 'needs-another', ai, text: `(${ai}) needs one of ${needs.join(', ')} beside it.` });
    }
    const against =
      notWith.length === 0
        ? undefined
        : elements.find((other) => other.ai !== ai && notWith.some((pattern) => matches(pattern, other.ai)));
    if (against)
      warnings.push({ code: 'not-together', ai, text: `(${ai}) and (${against.ai}) cannot stand together.` });
  }
  return warnings.concat(unsignedSerials(elements));
}

/**
 * For a label that we make: identifiers, values and associations must all be right.
 * @throws RangeError naming the first fault
 */
export function requireLabelElements(elements: readonly Gs1Element[]): void {
  requireElements(elements);
  const [first] = associationWarnings(elements);
  if (first) throw new RangeError(first.text);
}
