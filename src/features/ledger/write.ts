/** Writing a book and what follows from it for bins that it touched. Only success from here on. */
import type { Book, CountDraft } from '../../domain/ledger/book.ts';
import { settleTouched } from './bins/settle.ts';
import { writeEntries, type WriteContext, type WrittenEntry } from './book.ts';
import type { FindingDraft } from './findings-store.ts';

/**
 * Writes everything that the book accepted. When something was taken from a bin after what it touched, the gate has to be held
 * exclusively: the transaction starts again if it is not.
 */
export async function writeBook(
  context: WriteContext,
  book: Book,
  counts: readonly CountDraft[] = [],
  findings: readonly FindingDraft[] = [],
): Promise<WrittenEntry[]> {
  const written = await writeEntries(context, book, counts, findings);
  await settleTouched(context, book);
  return written;
}
