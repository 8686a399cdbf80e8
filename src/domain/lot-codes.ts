/**
 * A readable lot code, unique in the group: site, date, and five characters that follow from the lot's id, so that the same
 * fact sent again has the same code. At most 20 characters of GS1 set 82 (fits AI (10)).
 */

// Crockford's base 32: no I, L, O, U, so that a code read aloud or by hand is not misread.
const ALPHABET = '0123456789ABCDEFGHJKMNPQRSTVWXYZ';

/**
 * @param siteCode at most its first 6 characters are used
 * @param date 'YYYY-MM-DD'
 * @param lotId a UUID
 */
export function makeLotCode(siteCode: string, date: string, lotId: string): string {
  let tail = '';
  let n = BigInt(`0x${lotId.replaceAll('-', '').slice(16)}`);
  for (let at = 0; at < 5; at += 1) {
    tail += ALPHABET[Number(n % 32n)] ?? '0';
    n /= 32n;
  }
  return `${siteCode.slice(0, 6)}-${date.slice(2).replaceAll('-', '')}-${tail}`;
}

/** The code of one of the packs of a fill that are weighed singly: the fill's, and two characters for the pack (0 to 1,023). */
export function makePackCode(siteCode: string, date: string, fillLotId: string, packAt: number): string {
  const [high, low] = [Math.floor(packAt / 32), packAt % 32].map((digit) => ALPHABET[digit] ?? '0');
  return `${makeLotCode(siteCode.slice(0, 5), date, fillLotId)}${high}${low}`;
}
