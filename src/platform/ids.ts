/**
 * The only maker of ids. Server-made ids are UUIDv7 (they arrive in order, so indexes stay compact); ids that must be
 * the same everywhere are UUIDv5 of a name.
 */
import { randomBytes } from 'node:crypto';
import { v5, v7 } from 'uuid';

const NAMESPACE = '6f0d3c0e-2a55-5d0a-9f86-0c8a3d7b1e42';

export interface Ids {
  newId(): string;
}

export const randomIds: Ids = { newId: () => v7() };

/** A group is found by its code without a look-up, so that no statement runs before the group is set. */
export function groupIdOf(groupCode: string): string {
  return v5(`group:${groupCode}`, NAMESPACE);
}

/** An id that follows from another: a site's receiving place, a place's shortfall account. */
export function derivedId(what: string, ofId: string): string {
  return v5(`${what}:${ofId}`, NAMESPACE);
}

/** Ids of the examples in the contract and of the demo scenario: one name, one id. */
export function exampleId(name: string): string {
  return v5(`example:${name}`, NAMESPACE);
}

/** A secret of `bytes` random bytes, base64url. */
export function newSecret(bytes = 32): string {
  return randomBytes(bytes).toString('base64url');
}
