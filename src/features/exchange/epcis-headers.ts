/** What all operations of the EPCIS interfaces share: the standard's response headers and its problem types (gs1/EPCIS openapi.yaml 2.0.0). */
import { z } from 'zod';
import { Refused } from '../../domain/errors.ts';
import type { ProblemTypes } from '../../platform/http/contract.ts';

const exception = (name: string) => `epcisException:${name}`;

/** By our code. What the standard has no name for keeps our own type. */
export const epcisProblems: ProblemTypes = {
  'invalid-request': exception('QueryParameterException'),
  'epcis-query-invalid': exception('QueryParameterException'),
  'epcis-query-too-large': exception('QueryTooLargeException'),
  'epcis-document-invalid': exception('ValidationException'),
  'malformed-json': exception('ValidationException'),
  'body-unreadable': exception('ValidationException'),
  'body-too-large': exception('CaptureLimitExceededException'),
  unauthenticated: exception('SecurityException'),
  forbidden: exception('SecurityException'),
  'not-found': exception('NoSuchResourceException'),
  'not-acceptable': exception('NotAcceptableException'),
  'unsupported-media-type': exception('UnsupportedMediaTypeException'),
  'internal-error': exception('ImplementationException'),
  unavailable: exception('ImplementationException'),
};

/** One version is spoken: the lowest and the highest are it. */
const EPCIS_VERSION = '2.0.0';

const NAMES = [
  'GS1-EPCIS-Version',
  'GS1-EPCIS-Min',
  'GS1-EPCIS-Max',
  'GS1-CBV-Version',
  'GS1-CBV-Min',
  'GS1-CBV-Max',
] as const;

const version = z.string().meta({ example: EPCIS_VERSION });

/** In the contracts. */
export const standardHeaders: Readonly<Record<string, z.ZodType>> = Object.fromEntries(
  NAMES.map((name) => [name, version]),
);

/** In the replies. */
export const standardHeaderValues: Readonly<Record<string, string>> = Object.fromEntries(
  NAMES.map((name) => [name, EPCIS_VERSION]),
);

/** Request headers by which a client says what it understands; what is not said is understood. */
export const asked = z.object({
  'gs1-epcis-min': z.string().max(20).optional(),
  'gs1-epcis-max': z.string().max(20).optional(),
  'gs1-cbv-min': z.string().max(20).optional(),
  'gs1-cbv-max': z.string().max(20).optional(),
  'gs1-epc-format': z
    .enum(['No_Preference', 'Always_GS1_Digital_Link', 'Always_EPC_URN', 'Never_Translates'])
    .optional()
    .meta({ description: 'Things are named by GS1 Digital Link URIs; Always_EPC_URN is not acceptable' }),
});

const parts = (text: string): number[] => text.split('.').map(Number);

/** Below zero: earlier. A version that is no version is none that is spoken here. */
function compared(a: string, b: string): number {
  const [left, right] = [parts(a), parts(b)];
  for (let at = 0; at < 3; at += 1) {
    const difference = (left[at] ?? 0) - (right[at] ?? 0);
    if (difference !== 0) return difference;
  }
  return 0;
}

/** @throws Refused `not-acceptable` when what is answered here is not what the client understands */
export function requireUnderstood(headers: z.output<typeof asked>): void {
  if (headers['gs1-epc-format'] === 'Always_EPC_URN') {
    throw new Refused('not-acceptable', 'Things are named by GS1 Digital Link URIs here, not by EPC URNs.');
  }
  for (const standard of ['epcis', 'cbv'] as const) {
    const least = headers[`gs1-${standard}-min`] ?? EPCIS_VERSION;
    const most = headers[`gs1-${standard}-max`] ?? EPCIS_VERSION;
    const fits = compared(least, EPCIS_VERSION) <= 0 && compared(most, EPCIS_VERSION) >= 0;
    if (!fits)
      throw new Refused('not-acceptable', `${standard.toUpperCase()} is spoken here in version ${EPCIS_VERSION}.`);
  }
}
