/**
 * People and what they may do where. Refusals: `forbidden` (an administrator of single sites could otherwise make one of all),
 * `not-found`, `code-taken` (the sign-in name), `rule-broken` (the password; one's own access), `version-mismatch`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import type { Grant } from '../../platform/auth/actor.ts';
import { hashPassword } from '../../platform/auth/passwords.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { Context, Reply, SiteScope } from '../../platform/http/contract.ts';
import { requireVersion } from '../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../platform/http/replies.ts';
import { passwordFault } from './password-rules.ts';
import type { changePerson, createPerson, getPerson, listPeople } from './people-contract.ts';
import * as store from './store.ts';

export function requireEverySite(scope: SiteScope): void {
  if (!scope.all) throw new Refused('forbidden', 'People are managed by administrators of every site.');
}

function requireGoodPassword(password: string, signInName: string): void {
  const fault = passwordFault(password, signInName);
  if (fault !== null) throw new Refused('rule-broken', fault, { errors: [{ detail: fault, pointer: '#/password' }] });
}

async function requireSites(tx: Tx, grants: readonly Grant[]): Promise<void> {
  const wanted = grants.flatMap((grant) => (grant.siteId === null ? [] : [grant.siteId]));
  const known = await store.findSiteIds(tx, wanted);
  if (wanted.some((siteId) => !known.has(siteId))) throw notFound('site');
}

export async function createPersonCommand({ tx, body, factId, scope }: Context<typeof createPerson>): Promise<Reply> {
  requireEverySite(scope);
  requireGoodPassword(body.password, body.signInName);
  await requireSites(tx, body.grants);
  const passwordHash = await hashPassword(body.password);
  const { name, signInName, grants } = body;
  const person: store.PersonRow = { personId: factId, name, signInName, active: true, grants, version: 1 };
  // From here on only success.
  await store.insertPerson(tx, person);
  await store.upsertCredential(tx, factId, passwordHash);
  await store.insertGrants(tx, factId, grants);
  return createdReply(`/v1/people/${factId}`, person, null);
}

export async function listPeopleQuery({ tx, query, scope, path }: Context<typeof listPeople>): Promise<Reply> {
  requireEverySite(scope);
  const page = pageOf(query, ['text', 'uuid']);
  const rows = await store.listPeople(tx, page.after, page.limit);
  return pageReply(path, query, page, rows, (row) => [row.signInName, row.personId]);
}

export async function getPersonQuery({ tx, params, scope }: Context<typeof getPerson>): Promise<Reply> {
  requireEverySite(scope);
  const person = (await store.findPeople(tx, [params.personId])).get(params.personId);
  if (!person) throw notFound('person');
  return stateReply(person);
}

export async function changePersonCommand(context: Context<typeof changePerson>): Promise<Reply> {
  const { tx, params, body, actor, scope, ifMatch } = context;
  requireEverySite(scope);
  const person = await store.lockPerson(tx, params.personId);
  if (!person) throw notFound('person');
  requireVersion(ifMatch, person.version);
  if (person.personId === actor.actorId && (body.active === false || body.grants !== undefined)) {
    throw new Refused('rule-broken', 'Your own access is changed by another administrator.');
  }
  if (body.password !== undefined) requireGoodPassword(body.password, person.signInName);
  if (body.grants !== undefined) await requireSites(tx, body.grants);
  const passwordHash = body.password === undefined ? null : await hashPassword(body.password);
  const changed: store.PersonRow = {
    ...person,
    name: body.name ?? person.name,
    active: body.active ?? person.active,
    grants: body.grants ?? person.grants,
    version: person.version + 1,
  };
  // From here on only success.
  await store.updatePerson(tx, changed);
  if (passwordHash !== null) await store.upsertCredential(tx, person.personId, passwordHash);
  if (body.grants !== undefined) {
    await store.deleteGrants(tx, person.personId);
    await store.insertGrants(tx, person.personId, body.grants);
  }
  return stateReply(changed);
}
