/**
 * Every text, id, time and quantity of the contracts comes from here. No transforms and no refinements: what is written
 * here is exactly what the OpenAPI document says.
 */
import { z } from 'zod';

export const MAX_QUANTITY = 1_000_000_000_000;

// A pattern of its own (lower case only): an id is a name for ever, so it has one spelling.
export const uuid = z
  .string()
  .regex(/^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/, 'a UUID in lower case')
  .meta({ format: 'uuid', description: 'UUID in lower case' });

/** The client's own name for a fact. Optional here because Idempotency-Key may carry it. */
export const factId = uuid
  .optional()
  .meta({ description: 'Your own UUID for this fact: same id and content, same answer' });

// eslint's no-control-regex does not apply: NUL, controls and lone surrogates are what is kept out.
const TEXT = '^[^\\u0000-\\u0008\\u000b\\u000c\\u000e-\\u001f\\u007f\\ud800-\\udfff]*$';
const SAID =
  '^[ \\t\\r\\n]*[^\\u0000-\\u0020\\u007f\\ud800-\\udfff][^\\u0000-\\u0008\\u000b\\u000c\\u000e-\\u001f\\u007f\\ud800-\\udfff]*$';
const LINE = '^[^\\u0000-\\u001f\\u007f\\ud800-\\udfff]*$';

/** One line of text, 1..max characters, no control characters, no lone surrogates. */
export const line = (max = 200) =>
  z.string().min(1).max(max).regex(new RegExp(LINE, 'u'), 'one line without control characters');

/** Free text, line breaks allowed. */
export const text = (max = 2000) =>
  z.string().min(1).max(max).regex(new RegExp(TEXT, 'u'), 'text without control characters');

/** Free text that says something: a reason of blanks is none. */
export const said = (max = 2000) =>
  z.string().min(1).max(max).regex(new RegExp(SAID, 'u'), 'text that is not blank, without control characters');

/** Short readable code of a site, place, supplier …: letters, digits, dot, dash, underscore. */
export const code = z
  .string()
  .regex(/^[A-Za-z0-9][A-Za-z0-9._-]{0,19}$/, '1 to 20 letters, digits, dots, dashes or underscores')
  .meta({ example: 'CK1' });

/** GS1 character set 82 without % and /, at most 20 characters: fits AI (10); a pack label adds /serial to it. */
export const lotCode = z
  .string()
  .regex(/^[A-Za-z0-9!"&'()*+,\-.:;<=>?_]{1,20}$/, '1 to 20 characters of GS1 set 82 without % and /')
  .meta({ example: 'STEW-261125-A' });

/** What a scanner read: a lot code, or lot code/serial. Unknown codes are accepted and wait for identity. */
export const scannedCode = z
  .string()
  .min(1)
  .max(100)
  .regex(/^[\u0021-\u007e]+$/, 'printable ASCII without spaces');

/** What a scanner read, in any form: as `scannedCode`, with the separator GS (U+001D) that stands for FNC1 in GS1 symbols, and what a keyboard reader sends behind it. */
export const scannedSymbol = z
  .string()
  .min(1)
  .max(500)
  .regex(
    /^[\u001d\u0021-\u007e]+[\t\n\r]*$/,
    'printable ASCII without spaces, GS between elements; CR, LF or tab at the end only',
  );

export const serial = z
  .string()
  .regex(/^[1-9][0-9]{0,5}$/, 'a serial number without leading zeros')
  .meta({ example: '7' });

/** RFC 3339 with offset, at most milliseconds. */
export const instant = z
  .string()
  .regex(
    /^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])T([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d{1,3})?(Z|[+-]([01]\d|2[0-3]):[0-5]\d)$/,
    'a time with offset, such as 2026-11-25T06:40:00+00:00',
  )
  .meta({ format: 'date-time', example: '2026-11-25T06:40:00+00:00' });

export const date = z
  .string()
  .regex(/^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$/, 'a date such as 2026-11-25')
  .meta({ format: 'date', example: '2026-11-25' });

export const month = z
  .string()
  .regex(/^20\d{2}-(0[1-9]|1[0-2])$/, 'a month such as 2026-11')
  .meta({ example: '2026-11' });

export const unit = z
  .enum(['mg', 'g', 'ml', 'piece'])
  .meta({ description: "The item's unit, said again so that a slip shows" });

/** Whole units above zero. */
export const quantity = z.int().min(1).max(MAX_QUANTITY).meta({ example: 5200 });
export const quantityOrZero = z.int().min(0).max(MAX_QUANTITY).meta({ example: 0 });
/** In answers: any whole number. */
export const signedQuantity = z
  .int()
  .min(-MAX_QUANTITY * 1000)
  .max(MAX_QUANTITY * 1000);
export const massG = z.int().min(1).max(MAX_QUANTITY);

const positionOfPage = z
  .string()
  .min(1)
  .max(400)
  .regex(/^[A-Za-z0-9_-]+$/, 'a cursor from an earlier answer');
const pageLimit = z.string().regex(/^([1-9]|[1-9]\d|[1-4]\d\d|500)$/, 'a whole number from 1 to 500');

export const pageQuery = { cursor: positionOfPage.optional(), limit: pageLimit.optional() };

const allergenCode = z
  .string()
  .regex(/^[a-z][a-z-]*(:[a-z-]+)?$/)
  .max(60)
  .meta({ example: 'gluten-cereals:wheat' });
export const allergenCodes = z.array(allergenCode).max(60);
