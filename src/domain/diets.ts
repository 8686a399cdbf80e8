/**
 * Texture levels and diets of shared/diets.json, and whether an item may be sent against what was asked for. A texture is prescribed for
 * people who could choke: only the level that was asked for will do, neither a thinner nor a thicker one, and an item without a level
 * never stands in for one. Refusals: none; callers refuse with `diet-unknown` and `diet-mismatch`.
 */
import diets from '../../shared/diets.json' with { type: 'json' };

const codes: ReadonlySet<string> = new Set(diets.diets.list.map((diet) => diet.code));
const textures: ReadonlyMap<number, string> = new Map(diets.textures.list.map((one) => [one.level, one.label]));

export const isDietCode = (code: string): boolean => codes.has(code);

/** What an item is, or what is asked for. */
export interface Suits {
  /** IDDSI level 0 to 7; null: none is stated */
  readonly textureLevel: number | null;
  readonly dietCodes: readonly string[];
}

export interface DietConflict {
  /** null when the texture is as asked for, or none was */
  readonly texture: { readonly asked: number; readonly is: number | null } | null;
  /** asked for and not among the item's */
  readonly missingDiets: readonly string[];
}

/** Why the item does not meet the requirement; null when it does. */
export function dietConflict(item: Suits, requirement: Suits): DietConflict | null {
  const asked = requirement.textureLevel;
  const texture = asked !== null && asked !== item.textureLevel ? { asked, is: item.textureLevel } : null;
  const missingDiets = requirement.dietCodes.filter((code) => !item.dietCodes.includes(code));
  return texture === null && missingDiets.length === 0 ? null : { texture, missingDiets };
}

const level = (number: number): string => `level ${number} (${textures.get(number) ?? 'unknown'})`;

/** The conflict in words that whoever picks can act on. */
export function conflictSentence({ texture, missingDiets }: DietConflict, itemName: string): string {
  const parts: string[] = [];
  if (texture) {
    const is = texture.is === null ? 'has no texture level' : `is ${level(texture.is)}`;
    parts.push(
      `${itemName} ${is}; ${level(texture.asked)} was asked for. Send no other level: the wrong texture can choke. Ask whoever prescribed it.`,
    );
  }
  if (missingDiets.length > 0) parts.push(`${itemName} is not marked as ${missingDiets.join(', ')}.`);
  return parts.join(' ');
}
