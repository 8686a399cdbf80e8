/**
 * Workbooks (ISO/IEC 29500) written row by row: nothing but the table of repeated texts is held, so that a file of a million rows needs
 * no more memory than one of a hundred. The zip is a library's; the sheets are our own, because the library that streams workbooks
 * writes one sheet only and takes three times as long. Dates are real dates, quantities numbers, the heading is bold, stays in sight and
 * has a filter. Refusals: none.
 */
import { Readable } from 'node:stream';
import yazl from 'yazl';
import { escaped, formatStyle, HEAD, NS, STYLE, stylesXml } from './styles.ts';

export type CellValue = string | number | null;

/** A number shown by a format of its own, where the rows of a column are of different kinds. */
interface FormattedNumber {
  readonly number: number;
  /** as `format` of a column */
  readonly format: string;
}

export type SheetCell = CellValue | FormattedNumber;

export interface SheetColumn {
  readonly title: string;
  /** in characters */
  readonly width: number;
  /** `time`: milliseconds since 1970, shown in UTC; `date`: YYYY-MM-DD. Cells that are no number or date are texts. */
  readonly kind?: 'text' | 'number' | 'date' | 'time';
  /** how its numbers are shown, such as `#,##0.00` (ISO/IEC 29500-1, 18.8.31) */
  readonly format?: string;
}

export interface SheetSource {
  readonly name: string;
  readonly columns: readonly SheetColumn[];
  readonly rows: AsyncIterable<readonly SheetCell[]> | Iterable<readonly SheetCell[]>;
}

export interface WorkbookInfo {
  readonly title: string;
  /** names of sheets in the order of their tabs; sheets are written as given, so that a summary can be counted while others are written */
  readonly tabs: readonly string[];
}

const MOST_ROWS = 1_048_576;
/** What a cell can hold; a longer text is cut and says so. */
const MOST_CHARS = 32_767;
const CUT = ' ... (cut here: see the CSV or JSON)';
/** Repeated texts are kept once; with this many, further ones are written where they stand. */
const MOST_SHARED = 50_000;
const PIECE_CHARS = 64 * 1024;
const NS_R = 'http://schemas.openxmlformats.org/officeDocument/2006/relationships';
const NS_PACKAGE = 'http://schemas.openxmlformats.org/package/2006';
const TYPE = 'application/vnd.openxmlformats-officedocument.spreadsheetml';
/** Days from the spreadsheet's day 0 to 1970-01-01. */
const EPOCH_DAY = 25_569;
const DAY_MS = 86_400_000;
/** The same rows give the same bytes; zip knows no time before 1980. */
const MADE = new Date(Date.UTC(1980, 0, 1, 12));

function columnName(at: number): string {
  const last = String.fromCharCode(65 + (at % 26));
  return at < 26 ? last : columnName(Math.floor(at / 26) - 1) + last;
}

interface Texts {
  readonly indexes: Map<string, number>;
  uses: number;
  /** formats of numbers, in the order in which they were first used */
  readonly formats: string[];
}

function textCell(texts: Texts, ref: string, value: string, style: string): string {
  let index = texts.indexes.get(value);
  if (index === undefined && texts.indexes.size < MOST_SHARED) {
    index = texts.indexes.size;
    texts.indexes.set(value, index);
  }
  if (index !== undefined) {
    texts.uses += 1;
    return `<c r="${ref}"${style} t="s"><v>${index}</v></c>`;
  }
  return `<c r="${ref}"${style} t="inlineStr">${itemOf('is', value)}</c>`;
}

function itemOf(name: 'is' | 'si', value: string): string {
  const text = value.length > MOST_CHARS ? value.slice(0, MOST_CHARS - CUT.length) + CUT : value;
  return `<${name}><t xml:space="preserve">${escaped(text)}</t></${name}>`;
}

function rowXml(
  texts: Texts,
  names: readonly string[],
  sheet: SheetSource,
  row: readonly SheetCell[],
  no: number,
): string {
  let xml = `<row r="${no}">`;
  for (let at = 0; at < row.length; at += 1) {
    const value = row[at];
    if (value === null || value === undefined) continue;
    const ref = `${names[at]}${no}`;
    const kind = sheet.columns[at]?.kind;
    if (typeof value === 'number') {
      if (kind === 'time') xml += `<c r="${ref}" s="${STYLE.time}"><v>${value / DAY_MS + EPOCH_DAY}</v></c>`;
      else xml += `<c r="${ref}"${formatStyle(texts.formats, sheet.columns[at]?.format)}><v>${value}</v></c>`;
    } else if (typeof value === 'object') {
      xml += `<c r="${ref}"${formatStyle(texts.formats, value.format)}><v>${value.number}</v></c>`;
    } else if (kind === 'date') {
      xml += `<c r="${ref}" s="${STYLE.date}"><v>${Date.parse(value) / DAY_MS + EPOCH_DAY}</v></c>`;
    } else xml += textCell(texts, ref, value, '');
  }
  return `${xml}</row>`;
}

interface Part {
  readonly name: string;
  readonly file: string;
}

/** One worksheet; stops at `most` rows and says whether there is more. */
async function* sheetXml(
  texts: Texts,
  sheet: SheetSource,
  rows: AsyncIterator<readonly SheetCell[]> | Iterator<readonly SheetCell[]>,
  done: { rows: boolean },
): AsyncGenerator<string> {
  const names = sheet.columns.map((_, at) => columnName(at));
  const columns = sheet.columns
    .map(({ width }, at) => `<col min="${at + 1}" max="${at + 1}" width="${width}" customWidth="1"/>`)
    .join('');
  const heading = sheet.columns.map((one, at) => textCell(texts, `${names[at]}1`, one.title, ` s="${STYLE.heading}"`));
  let xml =
    `${HEAD}<worksheet xmlns="${NS}"><sheetViews><sheetView workbookViewId="0">` +
    '<pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews>' +
    `<sheetFormatPr defaultRowHeight="15"/><cols>${columns}</cols><sheetData><row r="1">${heading.join('')}</row>`;
  let no = 1;
  while (no < MOST_ROWS) {
    const next = await rows.next();
    if (next.done === true) {
      done.rows = true;
      break;
    }
    no += 1;
    xml += rowXml(texts, names, sheet, next.value, no);
    if (xml.length >= PIECE_CHARS) {
      yield xml;
      xml = '';
    }
  }
  yield `${xml}</sheetData><autoFilter ref="A1:${names.at(-1) ?? 'A'}${no}"/></worksheet>`;
}

function* sharedXml(texts: Texts): Generator<string> {
  yield `${HEAD}<sst xmlns="${NS}" count="${texts.uses}" uniqueCount="${texts.indexes.size}">`;
  let xml = '';
  for (const text of texts.indexes.keys()) {
    xml += itemOf('si', text);
    if (xml.length >= PIECE_CHARS) {
      yield xml;
      xml = '';
    }
  }
  yield `${xml}</sst>`;
}

function frameOf(parts: readonly Part[], info: WorkbookInfo, formats: readonly string[]): [string, string][] {
  const rank = ({ name }: Part) => info.tabs.findIndex((tab) => name === tab || name.startsWith(`${tab} `));
  const tabs = parts.map((part, at) => ({ part, at })).sort((a, b) => rank(a.part) - rank(b.part) || a.at - b.at);
  const sheets = tabs.map(
    ({ part, at }) => `<sheet name="${escaped(part.name)}" sheetId="${at + 1}" r:id="rId${at + 1}"/>`,
  );
  const relation = (no: number, kind: string, target: string) =>
    `<Relationship Id="rId${no}" Type="${NS_R}/${kind}" Target="${target}"/>`;
  const relations = [
    ...parts.map((part, at) => relation(at + 1, 'worksheet', part.file)),
    relation(parts.length + 1, 'styles', 'styles.xml'),
    relation(parts.length + 2, 'sharedStrings', 'sharedStrings.xml'),
  ];
  const override = (part: string, type: string) =>
    `<Override PartName="/xl/${part}" ContentType="${TYPE}.${type}+xml"/>`;
  const types = [
    override('workbook.xml', 'sheet.main'),
    override('styles.xml', 'styles'),
    override('sharedStrings.xml', 'sharedStrings'),
    ...parts.map((part) => override(part.file, 'worksheet')),
  ];
  return [
    ['xl/styles.xml', stylesXml(formats)],
    [
      'xl/workbook.xml',
      `${HEAD}<workbook xmlns="${NS}" xmlns:r="${NS_R}"><sheets>${sheets.join('')}</sheets></workbook>`,
    ],
    [
      'xl/_rels/workbook.xml.rels',
      `${HEAD}<Relationships xmlns="${NS_PACKAGE}/relationships">${relations.join('')}</Relationships>`,
    ],
    [
      '_rels/.rels',
      `${HEAD}<Relationships xmlns="${NS_PACKAGE}/relationships">${relation(1, 'officeDocument', 'xl/workbook.xml')}` +
        `<Relationship Id="rId2" Type="${NS_PACKAGE}/relationships/metadata/core-properties" Target="docProps/core.xml"/></Relationships>`,
    ],
    [
      'docProps/core.xml',
      `${HEAD}<cp:coreProperties xmlns:cp="${NS_PACKAGE}/metadata/core-properties" ` +
        `xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:title>${escaped(info.title)}</dc:title></cp:coreProperties>`,
    ],
    [
      '[Content_Types].xml',
      `${HEAD}<Types xmlns="${NS_PACKAGE}/content-types">` +
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>' +
        '<Default Extension="xml" ContentType="application/xml"/>' +
        '<Override PartName="/docProps/core.xml" ContentType="application/vnd.openxmlformats-package.core-properties+xml"/>' +
        `${types.join('')}</Types>`,
    ],
  ];
}

const iteratorOf = (rows: SheetSource['rows']): AsyncIterator<readonly SheetCell[]> | Iterator<readonly SheetCell[]> =>
  Symbol.asyncIterator in rows ? rows[Symbol.asyncIterator]() : rows[Symbol.iterator]();

/** The archive that is being written, and the member that is being read for it. */
interface Archive {
  readonly zip: yazl.ZipFile;
  reading: Readable | null;
  left: boolean;
}

class ReaderLeft extends Error {}

/** One member, to its end. Throws ReaderLeft when nobody wants it any more. */
async function addPart(
  archive: Archive,
  file: string,
  chunks: AsyncIterable<string> | Iterable<string>,
): Promise<void> {
  if (archive.left) throw new ReaderLeft();
  const stream = Readable.from(chunks, { objectMode: true, highWaterMark: 2 });
  archive.reading = stream;
  await new Promise<void>((resolve, reject) => {
    stream.once('error', reject).once('close', resolve);
    // Fast compression: a file of 200,000 rows is read once, and the time counts.
    archive.zip.addReadStream(stream, file, { compressionLevel: 1, mtime: MADE });
  });
}

async function fill(archive: Archive, sheets: readonly SheetSource[], info: WorkbookInfo): Promise<void> {
  const texts: Texts = { indexes: new Map(), uses: 0, formats: [] };
  const parts: Part[] = [];
  for (const sheet of sheets) {
    const rows = iteratorOf(sheet.rows);
    const done = { rows: false };
    try {
      for (let no = 1; !done.rows; no += 1) {
        const name = no === 1 ? sheet.name : `${sheet.name} ${no}`;
        const part = { name, file: `worksheets/sheet${parts.length + 1}.xml` };
        parts.push(part);
        await addPart(archive, `xl/${part.file}`, sheetXml(texts, sheet, rows, done));
      }
    } finally {
      await rows.return?.();
    }
  }
  await addPart(archive, 'xl/sharedStrings.xml', sharedXml(texts));
  for (const [file, xml] of frameOf(parts, info, texts.formats))
    archive.zip.addBuffer(Buffer.from(xml), file, { mtime: MADE });
  archive.zip.end();
}

/** The workbook, piece by piece. Fails with what the rows fail with; left early, the rows are left too. */
export async function* writeWorkbook(sheets: readonly SheetSource[], info: WorkbookInfo): AsyncGenerator<Buffer> {
  const archive: Archive = { zip: new yazl.ZipFile(), reading: null, left: false };
  const output = archive.zip.outputStream as Readable;
  archive.zip.on('error', (error: Error) => output.destroy(error));
  const filling = fill(archive, sheets, info).catch((error: unknown) => void output.destroy(error as Error));
  try {
    for await (const piece of output) yield piece as Buffer;
  } finally {
    archive.left = true;
    output.destroy();
    archive.reading?.destroy();
    await filling;
  }
}
