/** The styles of a workbook: its heading, its dates, and the formats of numbers as they came up. */
export const NS = 'http://schemas.openxmlformats.org/spreadsheetml/2006/main';
export const HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n';
export const STYLE = { heading: 1, date: 2, time: 3 } as const;
/** Numbers' formats follow these styles; their own ids follow the two formats of dates. */
const FIRST_FORMAT = { style: 4, id: 166 } as const;

const ENTITIES: Record<string, string> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' };

export function escaped(text: string): string {
  return text
    .replace(/[^\t\n\r\u0020-\uD7FF\uE000-\uFFFD\u{10000}-\u{10FFFF}]/gu, '\uFFFD')
    .replace(/[&<>"]/g, (character) => ENTITIES[character] ?? '');
}

/** @param formats in the order in which they were first used; a new one is added */
export function formatStyle(formats: string[], format: string | undefined): string {
  if (format === undefined) return '';
  const known = formats.indexOf(format);
  const at = known < 0 ? formats.push(format) - 1 : known;
  return ` s="${FIRST_FORMAT.style + at}"`;
}

export function stylesXml(formats: readonly string[]): string {
  const codes = formats.map(
    (format, at) => `<numFmt numFmtId="${FIRST_FORMAT.id + at}" formatCode="${escaped(format)}"/>`,
  );
  const styles = formats.map((_, at) => `<xf numFmtId="${FIRST_FORMAT.id + at}" applyNumberFormat="1"/>`);
  return (
    `${HEAD}<styleSheet xmlns="${NS}"><numFmts count="${2 + formats.length}">` +
    '<numFmt numFmtId="164" formatCode="yyyy\\-mm\\-dd"/>' +
    `<numFmt numFmtId="165" formatCode="yyyy\\-mm\\-dd\\ hh:mm:ss"/>${codes.join('')}</numFmts>` +
    '<fonts count="2"><font><sz val="10"/><name val="Arial"/></font><font><b/><sz val="10"/><name val="Arial"/></font></fonts>' +
    '<fills count="3"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill>' +
    '<fill><patternFill patternType="solid"><fgColor rgb="FFE8E8E8"/></patternFill></fill></fills>' +
    `<borders count="1"><border/></borders><cellStyleXfs count="1"><xf/></cellStyleXfs><cellXfs count="${4 + formats.length}"><xf/>` +
    '<xf fontId="1" fillId="2" applyFont="1" applyFill="1"/><xf numFmtId="164" applyNumberFormat="1"/>' +
    `<xf numFmtId="165" applyNumberFormat="1"/>${styles.join('')}</cellXfs>` +
    '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>'
  );
}
