/** What a search for shared things found, before it is made an answer. */
import type { StartAnswer, SuggestionKind } from './shapes.ts';

export interface Draft {
  readonly kind: SuggestionKind;
  readonly whyText: string;
  /** lots in scope may be among them; they are left out */
  readonly lotIds: readonly string[];
  readonly start: StartAnswer;
}

export interface Found {
  readonly drafts: readonly Draft[];
  /** there is more of these kinds than was looked at */
  readonly cutShort: readonly SuggestionKind[];
}
