/**
 * What a password must not be. Length alone says little: the ones that people choose most are tried first (NIST SP 800-63B section
 * 5.1.1.2 asks for such a list; section number from memory).
 */
import common from '../../../shared/common-passwords.json' with { type: 'json' };

const MIN_LENGTH = 8;
const MAX_LENGTH = 128;
const commonPasswords = new Set(common.list);

/** What is wrong with it, for a person; null when nothing is. */
export function passwordFault(password: string, signInName: string): string | null {
  const plain = password.normalize('NFKC').toLowerCase();
  if (password.length < MIN_LENGTH || password.length > MAX_LENGTH) return 'It must have 8 to 128 characters.';
  if (commonPasswords.has(plain)) return 'It is one of the passwords that are tried first.';
  if (plain === signInName.normalize('NFKC').toLowerCase()) return 'It is the sign-in name.';
  return null;
}
