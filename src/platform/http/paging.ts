/**
 * Lists are paged by cursor: the key of the last row shown, opaque to the client, stable under inserts. Refusal:
 * `bad-cursor`.
 */
import { z } from 'zod';
import { Refused } from '../../domain/errors.ts';
import type { Reply } from './contract.ts';

const DEFAULT_LIMIT = 100;

export interface Page {
  readonly limit: number;
  /** parts of the last key, as text; null on the first page */
  readonly after: readonly string[] | null;
}

const PARTS = {
  uuid: /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/,
  text: /^[^\u0000]{0,200}$/,
  int: /^-?\d{1,15}$/,
  time: /^(infinity|\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z)$/,
};

/** @param key the kinds of the parts of this list's key, in order */
export function pageOf(
  query: { cursor?: string | undefined; limit?: string | undefined },
  key: readonly (keyof typeof PARTS)[],
): Page {
  const limit = query.limit === undefined ? DEFAULT_LIMIT : Number(query.limit);
  if (query.cursor === undefined) return { limit, after: null };
  try {
    const after: unknown = JSON.parse(Buffer.from(query.cursor, 'base64url').toString('utf8'));
    const fits = (part: unknown, at: number) => typeof part === 'string' && PARTS[key[at] ?? 'text'].test(part);
    if (Array.isArray(after) && after.length === key.length && after.every(fits)) {
      return { limit, after: after as string[] };
    }
  } catch {
    // falls through: whatever is wrong with it, it is not a cursor of ours
  }
  throw new Refused('bad-cursor', 'The cursor could not be read.');
}

/** The schema of a page of `items`. */
export const pageSchema = <T extends z.ZodType>(item: T) =>
  z.object({
    items: z.array(item),
    nextCursor: z.string().nullable().meta({ description: 'null on the last page' }),
  });

/**
 * @param rows at most limit + 1 rows, in order
 * @param keyOf the cursor key of a row
 */
export function pageReply<Row>(
  path: string,
  query: Readonly<Record<string, string | undefined>>,
  page: Page,
  rows: readonly Row[],
  keyOf: (row: Row) => readonly string[],
): Reply {
  const items = rows.slice(0, page.limit);
  const last = items[items.length - 1];
  const more = rows.length > page.limit && last !== undefined;
  const nextCursor = more ? Buffer.from(JSON.stringify(keyOf(last)), 'utf8').toString('base64url') : null;
  const headers: Record<string, string> = {};
  if (nextCursor !== null) {
    const params = new URLSearchParams();
    for (const [name, value] of Object.entries(query))
      if (value !== undefined && name !== 'cursor') params.set(name, value);
    params.set('cursor', nextCursor);
    headers.Link = `<${path}?${params.toString()}>; rel="next"`;
  }
  return { status: 200, body: { items, nextCursor }, headers };
}
