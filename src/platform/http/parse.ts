/** What was sent against what the contract says. Refusal: `invalid-request`. */
import type { Request } from 'express';
import { Refused } from '../../domain/errors.ts';
import type { Operation } from './contract.ts';
import { invalidRequest } from './problem.ts';

/** `where` is body, query, path or header. @throws Refused `invalid-request` */
export function parse(
  schema: Operation['params'] | Operation['body'],
  value: unknown,
  where: string,
  always = false,
): unknown {
  if (!schema) {
    if (always && Object.keys(value as object).length > 0) {
      const errors = Object.keys(value as object).map((key) => ({
        detail: 'unknown field',
        pointer: `#/${where}/${key}`,
      }));
      throw new Refused('invalid-request', `This operation takes no ${where} parameters.`, { errors });
    }
    return undefined;
  }
  // zod drops this name even where it lets others through, so that it would be ignored
  if (where === 'query' && Object.hasOwn(value as object, '__proto__')) {
    const errors = [{ detail: 'unknown field', pointer: '#/query/__proto__' }];
    throw new Refused('invalid-request', 'There is no parameter __proto__.', { errors });
  }
  const result = schema.safeParse(value, { reportInput: false });
  if (!result.success) throw invalidRequest(result.error, where);
  return result.data;
}

/** Those that the operation reads, and no others. */
export function headersOf({ headers }: Operation, req: Request): Record<string, unknown> {
  const named = Object.keys(headers?.shape ?? {}).filter((name) => req.headers[name] !== undefined);
  return Object.fromEntries(named.map((name) => [name, req.headers[name]]));
}
