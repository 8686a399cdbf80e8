/** Strong ETags of our own: the version of a row. Refusal: `version-mismatch`. */
import { Refused } from '../../domain/errors.ts';

export function etagOf(version: number): string {
  return `"v${version}"`;
}

/** RFC 9110 §13.1.2, strong comparison for our purposes (we never make weak tags). */
export function matches(header: string | undefined, etag: string): boolean {
  if (header === undefined) return false;
  if (header.trim() === '*') return true;
  return header.split(',').some((one) => one.trim() === etag);
}

export function requireVersion(ifMatch: string | null, version: number): void {
  if (!matches(ifMatch ?? undefined, etagOf(version))) {
    throw new Refused('version-mismatch', `The current version is ${etagOf(version)}.`, {
      headers: { ETag: etagOf(version) },
    });
  }
}
