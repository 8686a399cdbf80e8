/** Texture levels and diets of shared/diets.json; whether an item may be sent against a requirement comes from here too. */
import diets from '../../shared/diets.json' with { type: 'json' };

const codes: ReadonlySet<string> = new Set(diets.diets.list.map((diet) => diet.code));

export const isDietCode = (code: string): boolean => codes.has(code);
