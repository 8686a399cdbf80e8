/**
 * Every refusal the service can give, by code. The table in shared/error-codes.json is the only place where a code gets
 * its status, title and advice; clients read the same file.
 */
import table from '../../shared/error-codes.json' with { type: 'json' };

export type ErrorCode = keyof typeof table;

export interface ErrorKind {
  readonly status: number;
  readonly title: string;
  readonly advice: string;
}

export const errorTable: Readonly<Record<ErrorCode, ErrorKind>> = table;

export interface ProblemIssue {
  /** what is wrong, for a person */
  readonly detail: string;
  /** JSON Pointer fragment into the request, e.g. `#/lines/0/quantity` */
  readonly pointer: string;
}

export interface RefusalMore {
  readonly errors?: readonly ProblemIssue[];
  /** extension members of the problem document (RFC 9457 §3.2) */
  readonly members?: Readonly<Record<string, unknown>>;
  readonly headers?: Readonly<Record<string, string>>;
}

/** A named refusal. Thrown by commands, turned into a problem document by the platform; nothing is written. */
export class Refused extends Error {
  readonly code: ErrorCode;
  readonly detail: string;
  readonly more: RefusalMore;
  constructor(code: ErrorCode, detail: string, more: RefusalMore = {}) {
    super(`${code}: ${detail}`);
    this.name = 'Refused';
    this.code = code;
    this.detail = detail;
    this.more = more;
  }
}

/** Unknown, of another site, or of another group: all answer the same. */
export function notFound(what: string): Refused {
  return new Refused('not-found', `No ${what} with that id is known here.`);
}
