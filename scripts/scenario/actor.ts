/** Whoever does all the work of the scenario: it is one hand with every role that it needs. */
import type { Actor } from '../../src/platform/auth/actor.ts';
import { exampleId } from '../../src/platform/ids.ts';

const ROLES = ['admin', 'kitchen', 'quality', 'driver', 'receiver'];

export function scenarioActor(groupId: string, seed: number): Actor {
  return {
    groupId,
    kind: 'person',
    actorId: exampleId(`scenario/${seed}/person/admin`),
    grants: ROLES.map((role) => ({ role, siteId: null })),
  };
}
