/**
 * Charts as SVG text, without a browser: Observable Plot draws each panel into a document of linkedom, and the panels are put below each
 * other under one heading. Both libraries are known here only. The sheet stands by itself: fonts are named on it, colours and sizes are
 * attributes, and the style element that Plot brings for web pages is left out, so that it also prints and goes into a PDF.
 */
import * as plot from '@observablehq/plot';
import { parseHTML } from 'linkedom';

type PlotOptions = plot.PlotOptions;

interface Panel {
  readonly heightPx: number;
  /** what the panel shows, above it; may be empty */
  readonly heading: string;
  readonly options: PlotOptions;
}

export interface Chart {
  /** of its ids, where several stand on one page; `chart` if left out */
  readonly name?: string;
  /** 860 if left out */
  readonly widthPx?: number;
  readonly title: string;
  /** for those who cannot see it */
  readonly description: string;
  /** under the title, one text a line */
  readonly lines: readonly string[];
  readonly panels: readonly Panel[];
  /** below everything, small, one text a line */
  readonly notes: readonly string[];
}

/** The part of the document's interface that is used; its own types need a browser's. */
interface Element {
  setAttribute(name: string, value: string): void;
  append(...children: Element[]): void;
  querySelector(selector: string): Element | null;
  querySelectorAll(selector: string): Iterable<Element>;
  remove(): void;
  textContent: string;
  readonly outerHTML: string;
}

interface Page {
  createElementNS(namespace: string, name: string): Element;
}

const SVG = 'http://www.w3.org/2000/svg';
const WIDTH_PX = 860;
const MARGIN_PX = 24;
const LINE_PX = 18;
const HEADING_PX = 26;
const FONT_FAMILY = "'DejaVu Sans', Verdana, 'Segoe UI', Arial, sans-serif";
const INK = '#1c2126';
const SOFT_INK = '#4b545c';

/** For the marks of a panel. */
export { plot };

/**
 * One SVG document, as wide as asked and as high as its content. The same chart gives the same text.
 * @param chart panels from top to bottom; they share a width, so equal `x` domains stand exactly below each other
 */
export function drawChart({
  name = 'chart',
  widthPx = WIDTH_PX,
  title,
  description,
  lines,
  panels,
  notes,
}: Chart): string {
  const { document } = parseHTML('<html><body></body></html>') as unknown as { document: Page };
  const element = (name: string, attributes: Readonly<Record<string, string | number>>, text = ''): Element => {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
    if (text !== '') made.textContent = text;
    return made;
  };
  const words = (text: string, y: number, size: number, rest: Readonly<Record<string, string>> = {}): Element =>
    element('text', { x: MARGIN_PX, y, 'font-size': size, fill: INK, ...rest }, text);

  const parts: Element[] = [
    element('title', { id: `${name}-title` }, title),
    element('desc', { id: `${name}-description` }, description),
    words(title, 36, 18, { 'font-weight': 'bold' }),
    ...lines.map((line, at) => words(line, 60 + at * LINE_PX, 12.5, { fill: SOFT_INK })),
  ];
  let topPx = 60 + lines.length * LINE_PX;
  for (const { heightPx, heading, options } of panels) {
    if (heading !== '') {
      parts.push(words(heading, topPx + 16, 12.5, { 'font-weight': 'bold' }));
      topPx += HEADING_PX;
    }
    parts.push(panelOf(document, { width: widthPx - 2 * MARGIN_PX, height: heightPx }, options, topPx));
    topPx += heightPx + 10;
  }
  parts.push(...notes.map((note, at) => words(note, topPx + 16 + at * 16, 11, { fill: SOFT_INK })));
  const heightPx = topPx + notes.length * 16 + MARGIN_PX;
  const sheet = element('svg', {
    xmlns: SVG,
    viewBox: `0 0 ${widthPx} ${heightPx}`,
    width: widthPx,
    height: heightPx,
    role: 'img',
    'aria-labelledby': `${name}-title ${name}-description`,
    'font-family': FONT_FAMILY,
  });
  // The title comes first: that is where readers of the picture look for it.
  const paper = element('rect', { width: widthPx, height: heightPx, fill: '#ffffff' });
  sheet.append(...parts.slice(0, 2), paper, ...parts.slice(2));
  return sheet.outerHTML;
}

function panelOf(
  document: Page,
  size: { readonly width: number; readonly height: number },
  options: PlotOptions,
  topPx: number,
): Element {
  const page = { document } as unknown as Pick<PlotOptions, 'document'>;
  const panel = plot.plot({ ...options, ...size, ...page }) as unknown as Element;
  panel.querySelector('style')?.remove();
  const place = { x: MARGIN_PX, y: topPx, 'font-size': 11.5, 'font-family': FONT_FAMILY, overflow: 'visible' };
  for (const [name, value] of Object.entries(place)) panel.setAttribute(name, String(value));
  return panel;
}
