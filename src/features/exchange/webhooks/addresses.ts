/**
 * Where webhooks may go. A service that sends where a client says can be made to call what only it can reach: its own ports, the cloud's
 * metadata, the neighbours. So an address is looked at when it is given, and each resolved one again when it is connected to, because
 * names change. Refusal: `webhook-address-refused`.
 */
import { lookup } from 'node:dns';
import { isIP, type LookupFunction } from 'node:net';
import ipaddr from 'ipaddr.js';
import { Refused } from '../../../domain/errors.ts';

/** `::127.0.0.1`: an IPv4 address in the old clothes of IPv6 (RFC 4291, 2.5.5.1). The registry's list does not name the block. */
const IPV4_COMPATIBLE = ipaddr.IPv6.parse('::');

/** Only what the address registries call global unicast: no loopback, private, link-local, mapped, translated or tunnelled one. */
export function isPublicAddress(address: string): boolean {
  if (!ipaddr.isValid(address)) return false;
  const read = ipaddr.process(address);
  if (read instanceof ipaddr.IPv6 && read.match(IPV4_COMPATIBLE, 96)) return false;
  return read.range() === 'unicast';
}

/** Names that never lead out (RFC 6761, RFC 6762), and those that clouds use inside. */
const INSIDE = /(^|\.)(localhost|local|internal|home\.arpa|localdomain)$/;

const refused = (why: string) =>
  new Refused('webhook-address-refused', why, { errors: [{ detail: why, pointer: '#/url' }] });

/** The address in the form in which it is kept. `http` and inside addresses only where whoever runs the service allows them. */
export function requireAddress(text: string, allowPrivate: boolean): string {
  const url = URL.canParse(text) ? new URL(text) : null;
  if (!url || !['https:', 'http:'].includes(url.protocol)) throw refused('It is not an https address.');
  if (url.username !== '' || url.password !== '')
    throw refused('It has a name or password in it: the signature says who sends.');
  if (url.hash !== '') throw refused('It has a fragment, which is never sent.');
  if (allowPrivate) return url.href;
  if (url.protocol !== 'https:') throw refused('It is not an https address.');
  // A number in any of its spellings is an address in dots by now.
  const host = url.hostname.replace(/^\[|\]$/g, '').replace(/\.$/, '');
  if (isIP(host) !== 0 ? !isPublicAddress(host) : INSIDE.test(host) || !host.includes('.')) {
    throw refused('It leads inside a network, not out of it.');
  }
  return url.href;
}

export class AddressRefused extends Error {}

/** Resolves a name for a connection, and hands over only what may be connected to: the address that was looked at is the one used. */
export const publicLookup: LookupFunction = (hostname, options, done) => {
  lookup(hostname, { ...options, all: true }, (error, addresses) => {
    if (error) return done(error, []);
    const inside = addresses.find(({ address }) => !isPublicAddress(address));
    if (inside) return done(new AddressRefused('the name leads inside a network'), []);
    const [first] = addresses;
    if (options.all || !first) return done(null, addresses);
    return done(null, first.address, first.family);
  });
};
