/**
 * Asks an operation as everybody, everywhere, and says what is not as it should be. It knows an operation only by its contract, its
 * example and how far it reaches; so it can be shown operations with faults, to see that it sees them.
 */
import { randomUUID } from 'node:crypto';
import { rolesOf, roles } from '../../../src/platform/auth/actor.ts';
import type { Operation } from '../../../src/platform/http/contract.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import type { Things } from './elsewhere.ts';
import { idPlaces, requestOf, type ExampleRequest } from './examples.ts';
import { GROUP_WIDE, givenAway, homeOf, isList, reachOf, unknownStatus } from './reach.ts';

export interface Who {
  readonly role: string;
  readonly groupId: string;
  readonly siteId: string | null;
}

export interface Seen {
  readonly status: number;
  readonly text: string;
  /** ETag, Location and Link, if any */
  readonly headers: string;
  /** 0: no transaction was begun */
  readonly statements: number;
}

export interface Grounds {
  readonly ask: (who: Who | null, request: ExampleRequest) => Promise<Seen>;
  readonly groupId: string;
  readonly otherGroupId: string;
  /** things of another site of the group */
  readonly elsewhere: Things;
  /** things of the other group */
  readonly abroad: Things;
  /** ids of what belongs to the sites of the examples */
  readonly siteBound: ReadonlySet<string>;
  /** ids of everything in the group of the examples */
  readonly groupBound: ReadonlySet<string>;
}

const UUIDS = /[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}/g;

function idsSent(who: Who | null, request: ExampleRequest): Set<string> {
  const sent = `${request.path}${request.query}${JSON.stringify(request.body)}${who?.siteId ?? ''}`;
  return new Set(sent.match(UUIDS));
}

/** All that an answer tells, but for the request's own number and the ids that it was sent. */
function told(seen: Seen, sent: ReadonlySet<string>): string {
  const text = seen.text.replace(/"instance":"[^"]*"/, '').replaceAll(UUIDS, (id) => (sent.has(id) ? 'sent' : id));
  return `${seen.status} ${seen.headers} ${text} after ${seen.statements} statements`;
}

interface Cell {
  readonly where: string;
  readonly groupId: string;
  readonly siteId: string | null;
  readonly status: number;
  /** ids that the answer must not hold, unless they were sent */
  readonly hidden: ReadonlySet<string> | null;
}

/** Where to ask from, and what the answer has to be for a role that has the permission. */
function cellsOf(operation: Operation, grounds: Grounds): Cell[] {
  const reach = reachOf(operation);
  const { groupId, otherGroupId, siteBound, groupBound } = grounds;
  const good = operation.example.status;
  const homeId = exampleId(homeOf(operation));
  const otherId = grounds.elsewhere['siteId'] ?? '';
  const abroadId = grounds.abroad['siteId'] ?? '';
  const other = { site: 404, list: good, group: good, 'every-site': 404, public: good }[reach.kind];
  const refused = reach.kind === 'every-site';
  const shows = isList(operation) && reach.kind !== 'site';
  const found = !shows && (reach.kind === 'site' || idPlaces(operation).length > 0) ? 404 : good;
  const abroad = reach.kind === 'every-site' ? (reach.abroad ?? found) : found;
  const alien = { groupId: otherGroupId, status: refused ? reach.other : abroad, hidden: groupBound };
  return [
    { where: 'every site', groupId, siteId: null, status: good, hidden: null },
    { where: 'own site', groupId, siteId: homeId, status: refused ? reach.own : good, hidden: null },
    {
      where: 'other site',
      groupId,
      siteId: otherId,
      status: refused ? reach.other : other,
      hidden: reach.kind === 'group' ? null : siteBound,
    },
    { ...alien, where: 'other group, every site', siteId: null, status: abroad },
    { ...alien, where: 'other group, its site', siteId: abroadId },
    { ...alien, where: 'other group, our site', siteId: homeId },
  ];
}

/** Every role from everywhere, nobody, and a token that is none. */
export async function complaintsOf(operation: Operation, grounds: Grounds): Promise<string[]> {
  const complaints: string[] = [];
  const request = requestOf(operation);
  const isPublic = operation.permission === 'public';
  const nobody = await grounds.ask(null, request);
  const wanted = isPublic ? operation.example.status : 401;
  if (nobody.status !== wanted) complaints.push(`nobody: ${nobody.status}, not ${wanted}`);
  if (isPublic) return complaints;
  if (nobody.statements > 0) complaints.push('nobody: the database was asked');
  const cells = cellsOf(operation, grounds);
  for (const role of roles) {
    const permitted = rolesOf(operation.permission).includes(role);
    for (const { where, groupId, siteId, status, hidden } of cells) {
      const who = { role, groupId, siteId };
      const seen = await grounds.ask(who, request);
      const due = permitted ? status : 403;
      if (seen.status !== due)
        complaints.push(`${role}, ${where}: ${seen.status}, not ${due}: ${seen.text.slice(0, 300)}`);
      if (!permitted && seen.statements > 0) complaints.push(`${role}, ${where}: refused, but the database was asked`);
      const sent = idsSent(who, request);
      const shown = (seen.text.match(UUIDS) ?? []).filter((id) => hidden?.has(id) && !sent.has(id));
      if (shown.length > 0) complaints.push(`${role}, ${where}: shows ${shown.length} ids, such as ${shown[0]}`);
    }
  }
  return complaints;
}

/**
 * An id that is unknown, one of another site and one of another group: the answer and the number of statements must be the same, for each
 * place of the request where an id stands.
 */
export async function differencesOf(operation: Operation, grounds: Grounds): Promise<string[]> {
  if (operation.permission === 'public') return [];
  const role = operation.example.role ?? rolesOf(operation.permission).find((one) => one !== 'device') ?? '';
  const complaints: string[] = [];
  const places = idPlaces(operation);
  const reach = reachOf(operation);
  const tell = async (who: Who, request: ExampleRequest) =>
    told(await grounds.ask(who, request), idsSent(who, request));
  const home = { role, groupId: grounds.groupId, siteId: exampleId(homeOf(operation)) };
  for (const who of [home, { ...home, siteId: null }]) {
    for (const place of places) {
      const [foreign, alien] = [grounds.elsewhere[place.field], grounds.abroad[place.field]];
      if (foreign === undefined || alien === undefined) {
        complaints.push(`${place.name}: nobody made one of those`);
        continue;
      }
      const ownSites = who.siteId === null || GROUP_WIDE.has(place.field) || givenAway(operation, place.name);
      const unknown = await tell(who, requestOf(operation, [[place, randomUUID()]]));
      const known = [
        ...(ownSites ? [] : [{ what: 'of another site', id: foreign }]),
        { what: 'of another group', id: alien },
      ];
      for (const { what, id } of known) {
        const said = await tell(who, requestOf(operation, [[place, id]]));
        if (said !== unknown) complaints.push(`${place.name} ${what}: ${said}\n  unknown: ${unknown}`);
      }
      const due = String(unknownStatus(operation, place.name));
      const judged = reach.kind !== 'every-site' || who.siteId === null;
      if (judged && !unknown.startsWith(due)) complaints.push(`${place.name} unknown: ${unknown}`);
    }
  }
  if (places.length === 0 || reach.kind === 'group') return complaints;
  const strangers = [
    { ...home, siteId: grounds.elsewhere['siteId'] ?? '' },
    { ...home, groupId: grounds.otherGroupId, siteId: null },
  ];
  for (const who of strangers) {
    const existing = await tell(who, requestOf(operation));
    const unknown = await tell(
      who,
      requestOf(
        operation,
        places.map((place) => [place, randomUUID()] as const),
      ),
    );
    if (existing !== unknown) complaints.push(`a stranger is told ${existing}\n  unknown: ${unknown}`);
  }
  return complaints;
}
