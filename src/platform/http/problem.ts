/** RFC 9457 problem documents from the one table. No stack trace leaves the process. */
import type { Response } from 'express';
import { z } from 'zod';
import { errorTable, Refused, type ErrorCode } from '../../domain/errors.ts';
import type { ProblemTypes } from './contract.ts';

const MAX_ISSUES = 20;

export const Problem = z
  .looseObject({
    type: z.string().meta({ example: '/problems/not-found' }),
    title: z.string(),
    status: z.int(),
    detail: z.string(),
    code: z.string(),
    advice: z.string().meta({ description: 'What to do about it' }),
    instance: z.string().meta({ description: 'The request id, for asking about it' }),
    errors: z
      .array(z.object({ detail: z.string(), pointer: z.string() }))
      .max(MAX_ISSUES)
      .optional(),
  })
  .meta({ id: 'Problem', description: 'RFC 9457 problem details' });

/** `types`: of the standard that the operation follows, where it names its own. */
export function problemOf(refused: Refused, requestId: string, types: ProblemTypes = {}): Record<string, unknown> {
  const kind = errorTable[refused.code];
  return {
    ...refused.more.members,
    type: types[refused.code] ?? `/problems/${refused.code}`,
    title: kind.title,
    status: kind.status,
    detail: refused.detail,
    code: refused.code,
    advice: kind.advice,
    instance: `urn:request:${requestId}`,
    ...(refused.more.errors && { errors: refused.more.errors.slice(0, MAX_ISSUES) }),
  };
}

export function sendProblem(res: Response, refused: Refused, requestId: string, types?: ProblemTypes): void {
  const problem = problemOf(refused, requestId, types);
  const status = errorTable[refused.code].status;
  for (const [name, value] of Object.entries(refused.more.headers ?? {})) res.setHeader(name, value);
  if (status === 401) res.setHeader('WWW-Authenticate', 'Bearer realm="sealtrail"');
  res.status(status).setHeader('Content-Type', 'application/problem+json; charset=utf-8');
  res.setHeader('Cache-Control', 'no-store');
  res.end(JSON.stringify(problem));
}

const escape = (part: PropertyKey) => String(part).replaceAll('~', '~0').replaceAll('/', '~1');

/** The two slips that people make most, in words that need no knowledge of the checker. */
function inPlainWords(message: string): string {
  if (/received undefined$/.test(message)) return 'this is missing';
  return /expected int, received number$/.test(message) ? 'a whole number is wanted' : message;
}

/** zod's issues as pointers; unknown keys are named one by one. `where` is body, query, path or header. */
export function invalidRequest(error: z.ZodError, where: string): Refused {
  const prefix = where === 'body' ? '#' : `#/${where}`;
  const errors = error.issues.flatMap((issue) => {
    const at = issue.path.map((part) => `/${escape(part)}`).join('');
    if (issue.code === 'unrecognized_keys') {
      return issue.keys.map((key) => ({ detail: 'unknown field', pointer: `${prefix}${at}/${escape(key)}` }));
    }
    return [{ detail: inPlainWords(issue.message), pointer: `${prefix}${at}` }];
  });
  const first = errors[0];
  const many = errors.length > 1 ? ` and ${errors.length - 1} more` : '';
  return new Refused('invalid-request', `${first?.pointer ?? prefix}: ${first?.detail ?? 'invalid'}${many}.`, {
    errors,
  });
}

/** Codes that any operation of a kind can answer, by what the operation is. */
export function commonErrors(operation: {
  permission: string;
  naming: string;
  params?: unknown;
  query?: unknown;
  body?: unknown;
  rawBody?: unknown;
  conditional?: boolean;
}): ErrorCode[] {
  const codes: ErrorCode[] = [
    'invalid-request',
    'method-not-allowed',
    'not-acceptable',
    'internal-error',
    'unavailable',
  ];
  if (operation.permission !== 'public') codes.push('unauthenticated', 'forbidden');
  if (operation.body) codes.push('malformed-json', 'body-too-large', 'unsupported-media-type');
  if (operation.rawBody) codes.push('malformed-json', 'body-unreadable', 'body-too-large', 'unsupported-media-type');
  if (operation.naming === 'fact') codes.push('fact-id-missing', 'fact-id-conflict', 'id-used-with-other-content');
  if (operation.naming === 'offered') codes.push('fact-id-missing', 'id-used-with-other-content');
  if (operation.conditional) codes.push('precondition-required', 'version-mismatch');
  return codes;
}
