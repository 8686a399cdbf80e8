/**
 * A device's token: `std.<groupId>.<deviceId>.<secret>`. It names its group, so that no statement runs before the group is set; of the
 * secret only the sha256 is kept (it is random and long, so a slow hash would add nothing).
 */
import { createHash, timingSafeEqual } from 'node:crypto';
import { groupIdOf } from '../../platform/ids.ts';

export interface DeviceToken {
  readonly groupId: string;
  readonly deviceId: string;
  readonly secret: string;
}

const UUID = '[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}';
const SHAPE = new RegExp(`^std\\.(${UUID})\\.(${UUID})\\.([A-Za-z0-9_-]{16,128})$`);

export function deviceTokenText(token: DeviceToken): string {
  return `std.${token.groupId}.${token.deviceId}.${token.secret}`;
}

/** null when the text is not of that shape */
export function parseDeviceToken(text: string): DeviceToken | null {
  const [, groupId, deviceId, secret] = SHAPE.exec(text) ?? [];
  if (groupId === undefined || deviceId === undefined || secret === undefined) return null;
  return { groupId, deviceId, secret };
}

/** A text that is no token belongs to a group that cannot exist (its code is empty). */
export function groupOfDeviceToken(text: string): string {
  return parseDeviceToken(text)?.groupId ?? groupIdOf('');
}

export function secretHashOf(secret: string): Buffer {
  return createHash('sha256').update(secret).digest();
}

/** False for a null hash too, after the same comparison. */
export function secretFits(secret: string, hash: Buffer | null): boolean {
  const same = timingSafeEqual(secretHashOf(secret), hash ?? Buffer.alloc(32));
  return same && hash !== null;
}
