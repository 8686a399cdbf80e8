/** A start that cannot go on for a reason that the person who started it can put right: said in one line, without a stack. */
import { ConfigRefused } from '../config.ts';

/** Exit code 2: nothing was started, and trying again changes nothing until something outside is put right. */
export class StartRefused extends Error {}

/** What to print, and the exit code: 2 for a refusal, 1 for a mistake of ours, which keeps its stack. */
export function explain(error: unknown): { text: string; code: 1 | 2 } {
  if (error instanceof ConfigRefused || error instanceof StartRefused) return { text: error.message, code: 2 };
  if (error instanceof Error) return { text: error.stack ?? error.message, code: 1 };
  return { text: String(error), code: 1 };
}

/** The words of an error. A refused connection to a name with several addresses has its words in its parts only. */
export function wordsOf(error: unknown): string {
  if (error instanceof AggregateError) return error.errors.map(wordsOf).join('; ');
  return error instanceof Error ? error.message : String(error);
}
