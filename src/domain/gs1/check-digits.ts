/**
 * Identifiers by the GS1 General Specifications: check digits (section 7.9) and character set 82.
 * Why here: a mistyped article, location or crate number must be caught while the person is still looking at it, and a
 * lot code that we make must fit application identifier (10) and our own pack label.
 *
 * Refusals: none; the predicates answer no. `checkDigit` throws RangeError on anything but digits.
 */

/** The 82 characters allowed in batch/lot, AI (10), and serial, AI (21): General Specifications 7.11 (number from memory). */
const CHARSET_82 = /^[!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]+$/;
const DIGITS = /^[0-9]+$/;
const GTIN_LENGTHS: readonly number[] = [8, 12, 13, 14];

/**
 * The check digit for a number without one: from the right, weights 3, 1, 3, 1 ...; what is missing to the next ten.
 * The same rule serves GTIN-8/12/13/14, GLN and SSCC (GS1 General Specifications 7.9.1). It is not Luhn's.
 * @param body the digits before the check digit
 * @returns one digit
 * @throws RangeError when `body` is empty or holds anything but digits
 */
export function checkDigit(body: string): string {
  if (!DIGITS.test(body)) throw new RangeError('A check digit is computed over digits only');
  let sum = 0;
  for (let fromRight = 0; fromRight < body.length; fromRight += 1) {
    const digit = Number(body.charAt(body.length - 1 - fromRight));
    sum += fromRight % 2 === 0 ? digit * 3 : digit;
  }
  return String((10 - (sum % 10)) % 10);
}

function hasValidCheckDigit(code: string): boolean {
  return DIGITS.test(code) && code.length > 1 && checkDigit(code.slice(0, -1)) === code.slice(-1);
}

/** Global Trade Item Number of 8, 12, 13 or 14 digits with a right check digit. */
export function isValidGtin(code: string): boolean {
  return GTIN_LENGTHS.includes(code.length) && hasValidCheckDigit(code);
}

/** Global Location Number: 13 digits with a right check digit. */
export function isValidGln(code: string): boolean {
  return code.length === 13 && hasValidCheckDigit(code);
}

/** Serial Shipping Container Code: 18 digits with a right check digit. */
export function isValidSscc(code: string): boolean {
  return code.length === 18 && hasValidCheckDigit(code);
}

/** At least one character, all of them from GS1's character set 82. */
export function isCharset82(text: string): boolean {
  return CHARSET_82.test(text);
}

/**
 * A lot code of ours: 1 to 20 characters of character set 82, without `%` (some barcode software doubles it in QR codes)
 * and without `/` (our pack label writes LOT/SERIAL, and the first slash ends the lot code).
 */
export function isLotCode(code: string): boolean {
  return code.length <= 20 && isCharset82(code) && !/[%/]/.test(code);
}

const SSCC_BODY = 17;

/**
 * A Serial Shipping Container Code: extension digit, company prefix, serial number filled with zeros, check digit.
 * @param prefix the group's GS1 company prefix, 4 to 12 digits
 * @param extension one digit that the group may choose
 * @param serial counts up, from 0
 * @returns 18 digits
 * @throws RangeError when one of them is malformed or the serial no longer fits
 */
export function sscc(prefix: string, extension: number, serial: bigint): string {
  if (!/^[0-9]{4,12}$/.test(prefix)) throw new RangeError('A company prefix has 4 to 12 digits');
  if (!Number.isInteger(extension) || extension < 0 || extension > 9)
    throw new RangeError('The extension is one digit');
  const room = SSCC_BODY - 1 - prefix.length;
  const digits = serial.toString();
  if (serial < 0n || digits.length > room) throw new RangeError(`The serial number has at most ${room} digits`);
  const body = `${extension}${prefix}${digits.padStart(room, '0')}`;
  return body + checkDigit(body);
}
