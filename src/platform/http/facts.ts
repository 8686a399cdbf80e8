/**
 * The client names its facts (a fact's id is its primary key for ever). Same id and same content: the first answer. Same
 * id, other content: refused, saying what differs. Refusals are not remembered. Refusals: `fact-id-missing`,
 * `fact-id-conflict`, `id-used-with-other-content`.
 */
import { createHash } from 'node:crypto';
import canonicalizeModule from 'canonicalize';
import { Refused } from '../../domain/errors.ts';
import { deputyOf, type Actor, type Permission } from '../auth/actor.ts';
import type { Tx } from '../db/db.ts';

// The package's types describe a CommonJS default export; under NodeNext the callable is the default itself.
const canonicalize = canonicalizeModule as unknown as (value: unknown) => string | undefined;

/** sha256 over the RFC 8785 form of the fields as sent. */
export function contentHashOf(content: unknown): Buffer {
  return createHash('sha256')
    .update(canonicalize(content) ?? 'null')
    .digest();
}

/** What a fact says: the fields as sent, without its own name and its secrets, and what the path named. */
export function contentOf(
  json: unknown,
  params: Readonly<Record<string, unknown>>,
  secretFields: readonly string[],
): Record<string, unknown> {
  const { id: _id, ...fields } = (json ?? {}) as Record<string, unknown>;
  for (const name of secretFields) if (name in fields) fields[name] = '[secret]';
  return Object.keys(params).length > 0 ? { ...fields, '@path': { ...params } } : fields;
}

export interface StoredFact {
  readonly factId: string;
  readonly operation: string;
  readonly content: unknown;
  readonly contentHash: Buffer;
  readonly siteId: string | null;
  readonly status: number;
  readonly answer: unknown;
  readonly location: string | null;
}

const COLUMNS = `f.fact_id as "factId", f.operation, f.content, f.content_hash as "contentHash", f.site_id as "siteId",
  f.status, f.answer, f.location`;

export async function findFacts(tx: Tx, factIds: readonly string[]): Promise<Map<string, StoredFact>> {
  const rows = await tx.query<StoredFact>(
    `select ${COLUMNS} from fact f where f.group_id = $1::uuid and f.fact_id = any($2::uuid[])`,
    [tx.groupId, factIds],
  );
  return new Map(rows.map((row) => [row.factId, row]));
}

/** Who recorded a fact, and how they came to. */
export interface Signature {
  readonly actorId: string;
  /** the tablet that a person acted on; null when a device acted by itself: it is the actor then */
  readonly deviceId: string | null;
  /** the deputy's appointment without which the actor could not have done it there */
  readonly deputyId: string | null;
}

/** `siteId`: the site that the fact belongs to, null for the whole group. */
export function signatureOf(actor: Actor, permission: Permission, siteId: string | null): Signature {
  const { actorId, deviceId } = actor;
  return { actorId, deviceId: deviceId ?? null, deputyId: deputyOf(actor, permission, siteId) };
}

export interface NewFact extends StoredFact, Signature {}

export async function insertFacts(tx: Tx, facts: readonly NewFact[], nowMs: number): Promise<void> {
  if (facts.length === 0) return;
  await tx.query(
    `insert into fact (group_id, fact_id, operation, content, content_hash, site_id, status, answer, location, actor_id, device_id, deputy_id,
            recorded_at)
     select $1::uuid, r.fact_id, r.operation, r.content, decode(r.content_hash, 'hex'), r.site_id, r.status, r.answer,
            r.location, r.actor_id, r.device_id, r.deputy_id, to_timestamp($3::float8 / 1000)
       from jsonb_to_recordset($2::jsonb) as r(fact_id uuid, operation text, content jsonb, content_hash text, site_id uuid,
            status int, answer jsonb, location text, actor_id uuid, device_id uuid, deputy_id uuid)`,
    [
      tx.groupId,
      JSON.stringify(
        facts.map((fact) => ({
          fact_id: fact.factId,
          operation: fact.operation,
          content: fact.content ?? null,
          content_hash: fact.contentHash.toString('hex'),
          site_id: fact.siteId,
          status: fact.status,
          answer: fact.answer ?? null,
          location: fact.location,
          actor_id: fact.actorId,
          device_id: fact.deviceId,
          deputy_id: fact.deputyId,
        })),
      ),
      nowMs,
    ],
  );
}

/** Throws when the id already names other content; true when it is a replay of the same. */
export function isReplay(stored: StoredFact, operation: string, content: unknown, contentHash: Buffer): boolean {
  if (stored.operation === operation && stored.contentHash.equals(contentHash)) return true;
  const differences =
    stored.operation === operation ? differingPointers(stored.content, content) : [`#: it names a ${stored.operation}`];
  throw new Refused('id-used-with-other-content', `The id ${stored.factId} already names another fact.`, {
    members: { differences: differences.slice(0, 20) },
  });
}

/** JSON Pointers of the places where two values differ. */
function differingPointers(first: unknown, second: unknown, at = '#'): string[] {
  if (Object.is(first, second)) return [];
  const bothObjects = typeof first === 'object' && typeof second === 'object' && first !== null && second !== null;
  if (!bothObjects || Array.isArray(first) !== Array.isArray(second)) return [at];
  const a = first as Record<string, unknown>;
  const b = second as Record<string, unknown>;
  const keys = [...new Set([...Object.keys(a), ...Object.keys(b)])].sort();
  return keys.flatMap((key) =>
    differingPointers(a[key], b[key], `${at}/${key.replaceAll('~', '~0').replaceAll('/', '~1')}`),
  );
}

/** The fact's id from body and header (an RFC 8941 string or a bare UUID). */
export function factIdFrom(bodyId: unknown, header: string | undefined): string {
  const key = header
    ?.trim()
    .replace(/^"(.*)"$/, '$1')
    .toLowerCase();
  if (key !== undefined && !/^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/.test(key)) {
    throw new Refused('fact-id-missing', 'Idempotency-Key must be a UUID.');
  }
  if (typeof bodyId === 'string' && key !== undefined && key !== bodyId) {
    throw new Refused('fact-id-conflict', 'The id in the body and Idempotency-Key are not the same.');
  }
  const id = typeof bodyId === 'string' ? bodyId : key;
  if (id === undefined) throw new Refused('fact-id-missing', 'Neither id nor Idempotency-Key was given.');
  return id;
}
