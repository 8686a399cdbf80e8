/** The query interface, bound. */
import { bind, type BoundOperation } from '../../../platform/http/contract.ts';
import * as contract from './contract.ts';
import { eventsOfResource, eventTypeNames, namesOf, readEvent, readEvents } from './queries.ts';

export const epcisQueryOperations: readonly BoundOperation[] = [
  bind(contract.listEpcisEvents, readEvents),
  bind(contract.getEpcisEvent, readEvent),
  bind(contract.eventTypes.list, eventTypeNames),
  bind(contract.eventTypes.events, eventsOfResource('eventTypes')),
  bind(contract.epcs.list, namesOf('epcs')),
  bind(contract.epcs.events, eventsOfResource('epcs')),
  bind(contract.bizSteps.list, namesOf('bizSteps')),
  bind(contract.bizSteps.events, eventsOfResource('bizSteps')),
  bind(contract.bizLocations.list, namesOf('bizLocations')),
  bind(contract.bizLocations.events, eventsOfResource('bizLocations')),
  bind(contract.readPoints.list, namesOf('readPoints')),
  bind(contract.readPoints.events, eventsOfResource('readPoints')),
  bind(contract.dispositions.list, namesOf('dispositions')),
  bind(contract.dispositions.events, eventsOfResource('dispositions')),
];
