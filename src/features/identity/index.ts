/** The only door to identity: groups, people, devices, deputies, signing in, and who recorded what. */
import type { Tokens } from '../../platform/auth/tokens.ts';
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { deviceSignIn, getMe, signIn } from './contract.ts';
import * as devicesCommands from './devices-commands.ts';
import * as devices from './devices-contract.ts';
import * as peopleCommands from './people-commands.ts';
import * as people from './people-contract.ts';
import * as deputiesCommands from './deputies-commands.ts';
import * as deputies from './deputies-contract.ts';
import { getFact } from './record-contract.ts';
import { getFactQuery } from './record.ts';
import { deviceSignInCommand, getMeQuery, signInCommand } from './sign-in.ts';
import * as tabletsCommands from './tablets-commands.ts';
import * as tablets from './tablets-contract.ts';

export { findDevice } from './devices-store.ts';
export { createGroup, getCurrency } from './group.ts';
export { findPeople, findPeopleNames, isPerson } from './store.ts';

export function identityOperations({ tokens }: { readonly tokens: Tokens }): readonly BoundOperation[] {
  return [
    bind(signIn, signInCommand(tokens)),
    bind(deviceSignIn, deviceSignInCommand(tokens)),
    bind(tablets.createTabletSignIn, tabletsCommands.tabletSignInCommand(tokens)),
    bind(getMe, getMeQuery),
    bind(tablets.setOwnPin, tabletsCommands.setOwnPinCommand),
    bind(people.createPerson, peopleCommands.createPersonCommand),
    bind(people.listPeople, peopleCommands.listPeopleQuery),
    bind(people.getPerson, peopleCommands.getPersonQuery),
    bind(people.changePerson, peopleCommands.changePersonCommand),
    bind(devices.createDevice, devicesCommands.createDeviceCommand),
    bind(devices.listDevices, devicesCommands.listDevicesQuery),
    bind(devices.getDevice, devicesCommands.getDeviceQuery),
    bind(devices.changeDevice, devicesCommands.changeDeviceCommand),
    bind(devices.createDeviceToken, devicesCommands.createDeviceTokenCommand),
    bind(tablets.setPersonPin, tabletsCommands.setPersonPinCommand),
    bind(tablets.setPersonBadge, tabletsCommands.setPersonBadgeCommand),
    bind(tablets.createBadgeRemoval, tabletsCommands.removeBadgeCommand),
    bind(deputies.createDeputy, deputiesCommands.createDeputyCommand),
    bind(deputies.listDeputies, deputiesCommands.listDeputiesQuery),
    bind(deputies.getDeputy, deputiesCommands.getDeputyQuery),
    bind(deputies.createDeputyEnd, deputiesCommands.endDeputyCommand),
    bind(getFact, getFactQuery),
  ];
}
