/**
 * The words of a PDF, page by page, read from the file itself: streams are inflated, and the codes of the embedded fonts are turned into
 * letters by their ToUnicode maps (ISO 32000-1, 9.10.3). For files whose fonts are embedded as two-byte codes; positions are not looked at.
 */
import { inflateSync } from 'node:zlib';

interface PdfObject {
  readonly head: string;
  readonly stream: string;
}

function objectsOf(pdf: Buffer): Map<string, PdfObject> {
  const text = pdf.toString('latin1');
  const objects = new Map<string, PdfObject>();
  for (const match of text.matchAll(/(\d+) 0 obj\n([\s\S]*?)\nendobj/g)) {
    const [, no = '', body = ''] = match;
    const from = body.indexOf('stream\n');
    const head = from < 0 ? body : body.slice(0, from);
    const raw = from < 0 ? '' : body.slice(from + 'stream\n'.length, body.lastIndexOf('\nendstream'));
    const stream = /FlateDecode/.test(head) ? inflateSync(Buffer.from(raw, 'latin1')).toString('latin1') : raw;
    objects.set(no, { head, stream });
  }
  return objects;
}

const lettersOf = (hex: string): string => Buffer.from(hex.replaceAll(' ', ''), 'hex').swap16().toString('utf16le');

/** From codes to letters. */
function mapOf(cmap: string): Map<number, string> {
  const map = new Map<number, string>();
  for (const [, list = ''] of cmap.matchAll(/beginbfrange([\s\S]*?)endbfrange/g)) {
    for (const [, first = '', , letters = ''] of list.matchAll(/<(\w+)>\s*<(\w+)>\s*\[([^\]]*)\]/g)) {
      const each = [...letters.matchAll(/<([\w ]*)>/g)];
      for (const [at, [, hex = '']] of each.entries()) map.set(Number.parseInt(first, 16) + at, lettersOf(hex));
    }
  }
  return map;
}

export function pdfPages(pdf: Buffer): string[] {
  const objects = objectsOf(pdf);
  const follow = (head: string, name: string): PdfObject | undefined =>
    objects.get(new RegExp(`/${name} \\[?(\\d+) 0 R`).exec(head)?.[1] ?? '');
  const pages = [...objects.values()].filter(({ head }) => /\/Type \/Page\b/.test(head));
  return pages.map((page) => {
    const resources = follow(page.head, 'Resources')?.head ?? '';
    const fonts = new Map(
      [...resources.matchAll(/\/(F\d+) (\d+) 0 R/g)].map(([, name = '', no = '']) => [
        name,
        mapOf(follow(objects.get(no)?.head ?? '', 'ToUnicode')?.stream ?? ''),
      ]),
    );
    let font = new Map<number, string>();
    let words = '';
    const marks = /\/(F\d+) [\d.]+ Tf|\[((?:<[\da-f]*>|[-\d.\s]+)*)\] TJ/gi;
    for (const [, name, shown] of (follow(page.head, 'Contents')?.stream ?? '').matchAll(marks)) {
      if (name !== undefined) font = fonts.get(name) ?? font;
      else {
        const codes = [...(shown ?? '').matchAll(/<([\da-f]*)>/gi)].map(([, hex]) => hex).join('');
        for (const code of codes.match(/.{4}/g) ?? []) words += font.get(Number.parseInt(code, 16)) ?? '\uFFFD';
        words += '\n';
      }
    }
    return words;
  });
}
