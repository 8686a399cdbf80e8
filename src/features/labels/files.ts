/**
 * Labels as a file: PDF for any number, SVG and PNG for one. Refusals: `rule-broken` (words that do not fit, more than one label in a
 * picture).
 */
import { Refused } from '../../domain/errors.ts';
import type { Reply } from '../../platform/http/contract.ts';
import {
  LAYOUTS,
  renderCratePng,
  renderCratesPdf,
  renderCrateSvg,
  renderLabelPng,
  renderLabelsPdf,
  renderLabelSvg,
  type CrateLabelContent,
  type Dpi,
  type LabelContent,
  type LabelLayout,
  type LayoutCode,
  type PdfOptions,
} from './drawing/index.ts';

export type FileFormat = 'pdf' | 'svg' | 'png';

const TYPES = { pdf: 'application/pdf', svg: 'image/svg+xml', png: 'image/png' } as const;

interface FileWish {
  readonly format?: FileFormat | undefined;
  readonly dpi?: '203' | '300' | '600' | undefined;
  readonly start?: string | undefined;
}

/** As the query says, else as Accept says. */
export function formatOf(query: Pick<FileWish, 'format'>, accept: (types: readonly string[]) => string): FileFormat {
  if (query.format !== undefined) return query.format;
  const type = accept(Object.values(TYPES));
  return (Object.keys(TYPES) as FileFormat[]).find((format) => TYPES[format] === type) ?? 'pdf';
}

const broken = (detail: string, pointer: string): Refused =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

interface FileOf<Label> {
  readonly name: string;
  readonly layout: LayoutCode;
  readonly format: FileFormat;
  readonly labels: Iterable<Label>;
  /** the moment written into the file; none for what is only looked at, so that the same labels are the same file */
  readonly madeAt?: Date;
}

/** How labels of one kind are drawn. */
interface Pens<Label> {
  readonly pdf: (labels: Iterable<Label>, layout: LabelLayout, options: PdfOptions) => Promise<Buffer>;
  readonly svg: (label: Label, layout: LabelLayout, dpi?: Dpi) => string;
  readonly png: (label: Label, layout: LabelLayout, dpi: Dpi) => Promise<Buffer>;
}

const PACKS: Pens<LabelContent> = { pdf: renderLabelsPdf, svg: renderLabelSvg, png: renderLabelPng };
const CRATES: Pens<CrateLabelContent> = { pdf: renderCratesPdf, svg: renderCrateSvg, png: renderCratePng };

/** Labels of packs. `dpi` of the wish is that of the printer: bars are whole dots of it. */
export const fileReply = (file: FileOf<LabelContent>, wish: FileWish): Promise<Reply> => reply(file, wish, PACKS);

/** Labels of crates. */
export const crateFileReply = (file: FileOf<CrateLabelContent>, wish: FileWish): Promise<Reply> =>
  reply(file, wish, CRATES);

async function reply<Label>(file: FileOf<Label>, wish: FileWish, pens: Pens<Label>): Promise<Reply> {
  const data = await drawn(() => draw(file, wish, pens));
  const name = file.name.replaceAll(/[^A-Za-z0-9._-]/g, '_');
  return {
    status: 200,
    raw: { contentType: TYPES[file.format], data },
    headers: { 'Content-Disposition': `inline; filename="${name}.${file.format}"` },
  };
}

async function draw<Label>(
  { layout, format, labels, madeAt }: FileOf<Label>,
  wish: FileWish,
  pens: Pens<Label>,
): Promise<Buffer | string> {
  const dpi = wish.dpi === undefined ? undefined : (Number(wish.dpi) as Dpi);
  const paper: LabelLayout = LAYOUTS[layout];
  const startAt = Number(wish.start ?? 1);
  if (format === 'pdf') {
    const places = paper.sheet === null ? 1 : paper.sheet.columns * paper.sheet.rows;
    if (startAt > places) throw broken(`A sheet of ${layout} has ${places} places, not ${startAt}.`, '#/query/start');
    return pens.pdf(labels, paper, { ...(dpi && { dpi }), startAt, ...(madeAt && { createdAt: madeAt }) });
  }
  const [label, second] = [...labels];
  if (!label || second) throw broken('A picture holds one label: name one, or ask for a PDF.', '#/query/format');
  return format === 'svg' ? pens.svg(label, paper, dpi) : pens.png(label, paper, dpi ?? 300);
}

/** What the drawing finds no room for is told to whoever asked; before a print it is drawn once for that. */
export async function drawn<T>(draw: () => Promise<T>): Promise<T> {
  try {
    return await draw();
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    const wayOut = error.message.includes('has no room') ? ' Choose a larger label.' : '';
    throw new Refused('rule-broken', `${error.message}.${wayOut}`);
  }
}
