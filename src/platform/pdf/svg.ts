/**
 * Our own SVG text as vector drawing in a PDF: the elements and attributes that charts.ts and the pictures of this service write, no
 * more. What is not known here is an error, so that a picture is never printed with something missing. Why our own: the libraries for
 * it bring a second PDF library, fall back to fonts that know no minus or thin space, and leave out silently what they do not know.
 */
import { parseHTML } from 'linkedom';
import type { Doc } from './fonts.ts';
import type { Drawing } from './sheet.ts';

/** The part of the document's interface that is used. */
interface Node {
  readonly nodeType: number;
  readonly tagName: string;
  readonly textContent: string;
  readonly children: Iterable<Node>;
  readonly childNodes: Iterable<Node>;
  getAttribute(name: string): string | null;
  getAttributeNames(): readonly string[];
}

/** What elements inherit. */
interface Ink {
  readonly fill: string;
  readonly stroke: string;
  readonly strokeWidth: number;
  readonly fillOpacity: number;
  readonly strokeOpacity: number;
  readonly dashes: string | null;
  readonly fontPx: number;
  readonly bold: boolean;
  readonly anchor: string;
}

const FIRST: Ink = {
  fill: '#000000',
  stroke: 'none',
  strokeWidth: 1,
  fillOpacity: 1,
  strokeOpacity: 1,
  dashes: null,
  fontPx: 12,
  bold: false,
  anchor: 'start',
};
const COLOUR_OF_TEXT = '#1c2126';
const BOLD_FROM = 600;
const COLOUR = /^(#[0-9a-f]{3}|#[0-9a-f]{6}|none|black|white)$/i;
/** They change nothing that is drawn here, or are read where they stand. */
const KNOWN =
  /^(aria-.*|role|class|id|xmlns.*|viewbox|width|height|x|y|x1|x2|y1|y2|cx|cy|r|rx|ry|d|dx|dy|points|transform|fill|fill-opacity|stroke|stroke-.*|opacity|font-.*|text-anchor|overflow|paint-order|shape-rendering)$/i;

const number = (text: string | null, otherwise = 0): number => (text === null ? otherwise : Number.parseFloat(text));

/** @throws Error for what could not be drawn as it is meant */
function inkOf(node: Node, ink: Ink): Ink {
  for (const name of node.getAttributeNames())
    if (!KNOWN.test(name)) throw new Error(`The attribute ${name} of ${node.tagName} is not drawn`);
  const said = (name: string): string | null => {
    const value = node.getAttribute(name);
    return value === 'currentColor' ? COLOUR_OF_TEXT : value;
  };
  const colour = (name: string): string | null => {
    const value = said(name);
    if (value !== null && !COLOUR.test(value)) throw new Error(`The colour ${value} is not drawn`);
    return value;
  };
  const opacity = number(said('opacity'), 1);
  const weight = said('font-weight');
  return {
    fill: colour('fill') ?? ink.fill,
    stroke: colour('stroke') ?? ink.stroke,
    strokeWidth: number(said('stroke-width'), ink.strokeWidth),
    fillOpacity: number(said('fill-opacity'), ink.fillOpacity) * opacity,
    strokeOpacity: number(said('stroke-opacity'), ink.strokeOpacity) * opacity,
    dashes: said('stroke-dasharray') ?? ink.dashes,
    fontPx: number(said('font-size'), ink.fontPx),
    bold: weight === null ? ink.bold : weight === 'bold' || Number(weight) >= BOLD_FROM,
    anchor: said('text-anchor') ?? ink.anchor,
  };
}

function move(doc: Doc, transform: string | null): void {
  for (const [, name, list] of (transform ?? '').matchAll(/(\w+)\(([^)]*)\)/g)) {
    const [first = 0, second] = (list ?? '').split(/[\s,]+/).map(Number);
    if (name === 'translate') doc.translate(first, second ?? 0);
    else if (name === 'rotate') doc.rotate(first);
    else if (name === 'scale') doc.scale(first, second ?? first);
    else throw new Error(`The transform ${name} is not drawn`);
  }
}

function paint(doc: Doc, ink: Ink): void {
  const fill = ink.fill !== 'none';
  const stroke = ink.stroke !== 'none' && ink.strokeWidth > 0;
  doc.lineWidth(ink.strokeWidth).fillOpacity(ink.fillOpacity).strokeOpacity(ink.strokeOpacity);
  if (ink.dashes !== null && ink.dashes !== 'none') {
    const [on = 1, off = on] = ink.dashes.split(/[\s,]+/).map(Number);
    doc.dash(on, { space: off });
  } else doc.undash();
  if (fill && stroke) doc.fillAndStroke(ink.fill, ink.stroke);
  else if (fill) doc.fill(ink.fill);
  else if (stroke) doc.stroke(ink.stroke);
}

/** `0.32em` and `12px` alike. */
const lengthPx = (text: string, fontPx: number): number => number(text) * (text.endsWith('em') ? fontPx : 1);

function drawText(doc: Doc, node: Node, ink: Ink): void {
  const px = (part: Node, name: string, otherwise = 0): number => {
    const text = part.getAttribute(name);
    return text === null ? otherwise : lengthPx(text, ink.fontPx);
  };
  let xPx = px(node, 'x') + px(node, 'dx');
  let yPx = px(node, 'y') + px(node, 'dy');
  doc.fillOpacity(ink.fillOpacity);
  for (const part of node.childNodes) {
    const own = part.nodeType === 1;
    if (own && part.tagName.toLowerCase() === 'title') continue;
    const partInk = own ? inkOf(part, ink) : ink;
    if (own) {
      xPx = px(part, 'x', xPx);
      yPx = px(part, 'y', yPx) + px(part, 'dy');
    }
    doc.font(partInk.bold ? 'bold' : 'regular').fontSize(partInk.fontPx);
    const widthPx = doc.widthOfString(part.textContent);
    const share = partInk.anchor === 'middle' ? 0.5 : partInk.anchor === 'end' ? 1 : 0;
    if (partInk.fill !== 'none')
      doc
        .fillColor(partInk.fill)
        .text(part.textContent, xPx - widthPx * share, yPx, { lineBreak: false, baseline: 'alphabetic' });
    if (partInk.anchor === 'start') xPx += widthPx;
  }
}

function drawNode(doc: Doc, node: Node, inherited: Ink): void {
  const name = node.tagName.toLowerCase();
  if (name === 'title' || name === 'desc') return;
  const ink = inkOf(node, inherited);
  const at = (attribute: string): number => number(node.getAttribute(attribute));
  doc.save();
  move(doc, node.getAttribute('transform'));
  if (name === 'svg' || name === 'g') {
    if (name === 'svg') doc.translate(at('x'), at('y'));
    for (const child of node.children) drawNode(doc, child, ink);
  } else if (name === 'text') drawText(doc, node, ink);
  else if (name === 'rect') paint(doc.rect(at('x'), at('y'), at('width'), at('height')), ink);
  else if (name === 'line') paint(doc.moveTo(at('x1'), at('y1')).lineTo(at('x2'), at('y2')), { ...ink, fill: 'none' });
  else if (name === 'circle') paint(doc.circle(at('cx'), at('cy'), at('r')), ink);
  else if (name === 'path') paint(doc.path(node.getAttribute('d') ?? ''), ink);
  else throw new Error(`The element ${name} is not drawn`);
  doc.restore();
}

function rootOf(svg: string): Node {
  const { document } = parseHTML(`<html><body>${svg}</body></html>`) as unknown as {
    document: { querySelector(selector: string): Node | null };
  };
  const root = document.querySelector('svg');
  if (root === null) throw new Error('There is no picture in it');
  return root;
}

const GAP_PX = 16;

/**
 * Pictures side by side as one drawing.
 * @param svgs documents with width and height in pixels
 * @throws Error when one is none, and on drawing what is not known
 */
export function svgDrawing(svgs: readonly string[], heading?: string): Drawing {
  const pictures = svgs.map(rootOf).map((root) => ({
    root,
    width: number(root.getAttribute('width')),
    height: number(root.getAttribute('height')),
  }));
  return {
    ...(heading === undefined ? {} : { heading }),
    width: pictures.reduce((sum, { width }) => sum + width, GAP_PX * (pictures.length - 1)),
    height: Math.max(...pictures.map(({ height }) => height)),
    draw: (doc) => {
      let xPx = 0;
      for (const { root, width } of pictures) {
        doc.save().translate(xPx, 0);
        drawNode(doc, root, FIRST);
        doc.restore();
        xPx += width + GAP_PX;
      }
      doc.fillOpacity(1).strokeOpacity(1).undash();
    },
  };
}
