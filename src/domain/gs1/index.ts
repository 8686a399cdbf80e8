/**
 * GS1 syntax: identifiers, element strings, brackets, Digital Links, and what a scan means. Pure. Sources: the GS1 General
 * Specifications as far as the published syntax dictionary tells them, see shared/gs1-identifiers.json; what is from memory says so
 * where it stands.
 */
export { checkDigit, isCharset82, isLotCode, isValidGln, isValidGtin, isValidSscc, sscc } from './check-digits.ts';
export { netWeightElement } from './amounts.ts';
export { requireLabelElements } from './associations.ts';
export { resolveDate } from './dates.ts';
export { digitalLink, readDigitalLink } from './digital-links.ts';
export { bracketed, bwipText, elementString, readBracketed, readElementString } from './element-strings.ts';
export type { Gs1Element } from './identifiers.ts';
export type { ScanReading } from './readings.ts';
export { interpretScan, lotCandidates, rereadWith, withoutReaderEnd } from './scans.ts';
export { ScanUnreadable } from './unreadable.ts';
