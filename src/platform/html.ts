/** Text in a page. */
const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

/** Safe as text and in a quoted attribute. */
export const escaped = (text: string): string => text.replace(/[&<>"']/g, (character) => ENTITIES[character] ?? '');
