/** The only door to identity: groups, people, devices, signing in. */
import type { Tokens } from '../../platform/auth/tokens.ts';
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { deviceSignIn, getMe, signIn } from './contract.ts';
import * as devicesCommands from './devices-commands.ts';
import * as devices from './devices-contract.ts';
import * as peopleCommands from './people-commands.ts';
import * as people from './people-contract.ts';
import { deviceSignInCommand, getMeQuery, signInCommand } from './sign-in.ts';

export { createGroup } from './group.ts';
export { findPeopleNames } from './store.ts';

export function identityOperations({ tokens }: { readonly tokens: Tokens }): readonly BoundOperation[] {
  return [
    bind(signIn, signInCommand(tokens)),
    bind(deviceSignIn, deviceSignInCommand(tokens)),
    bind(getMe, getMeQuery),
    bind(people.createPerson, peopleCommands.createPersonCommand),
    bind(people.listPeople, peopleCommands.listPeopleQuery),
    bind(people.getPerson, peopleCommands.getPersonQuery),
    bind(people.changePerson, peopleCommands.changePersonCommand),
    bind(devices.createDevice, devicesCommands.createDeviceCommand),
    bind(devices.listDevices, devicesCommands.listDevicesQuery),
    bind(devices.getDevice, devicesCommands.getDeviceQuery),
    bind(devices.changeDevice, devicesCommands.changeDeviceCommand),
    bind(devices.createDeviceToken, devicesCommands.createDeviceTokenCommand),
  ];
}
