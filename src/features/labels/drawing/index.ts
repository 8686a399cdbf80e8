/**
 * Labels of packs and of crates as PDF, SVG and PNG at true size. Everything throws RangeError, with words for people, when a label
 * cannot say what it must: a date that is none, safety words or a barcode without room, elements that break the GS1 rules.
 */
import { buffer } from 'node:stream/consumers';
import type { CrateLabelContent, LabelContent } from './content.ts';
import { sketchCrate } from './crate.ts';
import type { LabelLayout } from './layouts.ts';
import { sketchPack } from './pack.ts';
import { sketchesPdf } from './pdf.ts';
import { sketchPng, sketchSvg } from './pens.ts';
import type { Dpi, Sketch } from './sketch.ts';
import { makeMeter, type Meter } from './text-fit.ts';

export type { CrateLabelContent, LabelContent, LabelElement, SymbolContent } from './content.ts';
export { customRoll, LAYOUTS, type LabelLayout, type LayoutCode } from './layouts.ts';
export type { Dpi } from './sketch.ts';
export { ENGLISH, type Deed, type LabelWords } from './words.ts';

export interface PdfOptions {
  /** Dots of the printer, for modules of whole dots: 203 on rolls and 600 on sheets if left out. */
  readonly dpi?: Dpi;
  /** First place used on the first sheet, from 1. */
  readonly startAt?: number;
  readonly title?: string;
  /** The moment written into the file. */
  readonly createdAt?: Date;
}

type Many<T> = Iterable<T> | AsyncIterable<T>;
type Sketcher<T> = (label: T, layout: LabelLayout, dpi: Dpi, meter: Meter) => Sketch;

const usualDpi = (layout: LabelLayout): Dpi => (layout.sheet ? 600 : 203);

async function* sketchesOf<T>(
  labels: Many<T>,
  sketch: Sketcher<T>,
  layout: LabelLayout,
  dpi: Dpi,
): AsyncGenerator<Sketch> {
  const meter = makeMeter();
  for await (const label of labels) yield sketch(label, layout, dpi, meter);
}

/** Not the moment of printing, so that a reprint is the same file. */
const LONG_AGO = new Date(0);

function streamPdf<T>(
  labels: Many<T>,
  sketch: Sketcher<T>,
  layout: LabelLayout,
  { dpi = usualDpi(layout), startAt = 1, title = 'Labels', createdAt = LONG_AGO }: PdfOptions,
): AsyncGenerator<Buffer> {
  return sketchesPdf(sketchesOf(labels, sketch, layout, dpi), layout, { title, createdAt, startAt });
}

/** One PDF of any number of pack labels, piece by piece. */
export function streamLabelsPdf(
  labels: Many<LabelContent>,
  layout: LabelLayout,
  options: PdfOptions = {},
): AsyncGenerator<Buffer> {
  return streamPdf(labels, sketchPack, layout, options);
}

/** As `streamLabelsPdf`, whole. */
export function renderLabelsPdf(
  labels: Many<LabelContent>,
  layout: LabelLayout,
  options: PdfOptions = {},
): Promise<Buffer> {
  return buffer(streamLabelsPdf(labels, layout, options));
}

/** One PDF of any number of crate labels; the layout is at least 90 mm wide and high. */
export function renderCratesPdf(
  labels: Many<CrateLabelContent>,
  layout: LabelLayout,
  options: PdfOptions = {},
): Promise<Buffer> {
  return buffer(streamPdf(labels, sketchCrate, layout, options));
}

/** One pack label as SVG, in mm, its text as outlines. */
export function renderLabelSvg(label: LabelContent, layout: LabelLayout, dpi: Dpi = usualDpi(layout)): string {
  return sketchSvg(sketchPack(label, layout, dpi, makeMeter()));
}

/** One pack label as PNG, black and white, for a printer of these dots. */
export function renderLabelPng(label: LabelContent, layout: LabelLayout, dpi: Dpi): Promise<Buffer> {
  return sketchPng(sketchPack(label, layout, dpi, makeMeter()), dpi);
}

/** One crate label as SVG, in mm, its text as outlines. */
export function renderCrateSvg(label: CrateLabelContent, layout: LabelLayout, dpi: Dpi = usualDpi(layout)): string {
  return sketchSvg(sketchCrate(label, layout, dpi, makeMeter()));
}

/** One crate label as PNG, black and white, for a printer of these dots. */
export function renderCratePng(label: CrateLabelContent, layout: LabelLayout, dpi: Dpi): Promise<Buffer> {
  return sketchPng(sketchCrate(label, layout, dpi, makeMeter()), dpi);
}
