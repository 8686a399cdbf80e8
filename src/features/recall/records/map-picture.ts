/** The map drawn: as SVG, and into a PDF. Black on white with shades, so that it survives any printer; a drill says so in words. */
import {
  middleOf,
  MOST_LABELS,
  PAD,
  type FlowColumn,
  type FlowMap,
  type PlacedEdge,
  type PlacedNode,
} from '../../../domain/recall/flow-map.ts';
import type { Drawing } from '../../../platform/pdf/sheet.ts';
import { element, escapeXml, textElement, textWidthPx } from '../../tracing/index.ts';

type Doc = Parameters<Drawing['draw']>[0];

const INK = '#1c2126';
const SOFT = '#5a646c';
const FILL: Readonly<Record<FlowColumn, string>> = {
  supplier: '#e6e8ea',
  supplied: '#dbe7f3',
  produced: '#e3efdc',
  packed: '#efe6f5',
  converted: '#f6ead3',
  site: '#ffffff',
};
const FONT = "'DejaVu Sans', Verdana, 'Segoe UI', Arial, sans-serif";
const MARGIN = 24;
const LINE = 15;
export const MAP_TITLE_PX = 12.5;
const SMALL = 11;

/** Cut where it would leave its box. */
function fit(text: string, fontPx: number, widthPx: number, bold = false): string {
  if (textWidthPx(text, fontPx, bold) <= widthPx) return text;
  let cut = text;
  while (cut.length > 1 && textWidthPx(`${cut}…`, fontPx, bold) > widthPx) cut = cut.slice(0, -1);
  return `${cut.trimEnd()}…`;
}

/** The lines of a box, the bold ones first. */
function wordsOf(node: PlacedNode): { text: string; bold: boolean; size: number }[] {
  const widthPx = node.width - 2 * PAD;
  const line = (text: string, size: number, bold: boolean) => ({ text: fit(text, size, widthPx, bold), bold, size });
  const title = node.title.map((text) => line(text, MAP_TITLE_PX, true));
  return [...title, ...node.lines.map((text) => line(text, SMALL, false))];
}

function curve({ points: [a, b, c, d] }: PlacedEdge): string {
  const at = ({ x, y }: { x: number; y: number }) => `${x.toFixed(1)} ${y.toFixed(1)}`;
  return `M${at(a)}C${at(b)} ${at(c)} ${at(d)}`;
}

function nodeSvg(node: PlacedNode): string {
  const { x, y, width, height } = node;
  return element(
    'g',
    {},
    element('title', {}, escapeXml([node.title.join(' '), ...node.lines].join('\n'))),
    element('rect', { x, y, width, height, rx: 4, fill: FILL[node.column], stroke: INK, 'stroke-width': 1 }),
    ...wordsOf(node).map(({ text, bold, size }, at) =>
      textElement(text, x + PAD, y + PAD + 11 + at * LINE, {
        'font-size': size,
        fill: INK,
        ...(bold ? { 'font-weight': 'bold' } : {}),
      }),
    ),
  );
}

const labelled = ({ edges }: FlowMap): PlacedEdge[] =>
  edges.length > MOST_LABELS ? [] : edges.filter((edge) => edge.label !== '');

function labelSvg(edge: PlacedEdge): string {
  const { x, y } = middleOf(edge.points);
  const width = textWidthPx(edge.label, 10) + 6;
  return (
    element('rect', { x: x - width / 2, y: y - 7, width, height: 14, fill: '#ffffff', 'fill-opacity': 0.88 }) +
    textElement(edge.label, x, y + 3.5, { 'font-size': 10, fill: SOFT, 'text-anchor': 'middle' })
  );
}

/** @param title what it is the map of; a drill says so in it */
export function mapSvg(map: FlowMap, title: string, note: string): string {
  const width = Math.ceil(Math.max(map.width, textWidthPx(title, 18, true), textWidthPx(note, 12)) + 2 * MARGIN);
  const height = Math.ceil(map.height + 2 * MARGIN + 60);
  const arrow = element('path', { d: 'M0 0.5L10 5L0 9.5Z', fill: SOFT });
  const size = { viewBox: '0 0 10 10', refX: 9, refY: 5, markerWidth: 9, markerHeight: 9 };
  const lines = map.edges.map((edge) =>
    element('path', {
      d: curve(edge),
      fill: 'none',
      stroke: SOFT,
      'stroke-width': edge.thickness,
      'stroke-opacity': 0.75,
      'marker-end': 'url(#arrow)',
      ...(edge.back ? { 'stroke-dasharray': '5 3' } : {}),
    }),
  );
  return element(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      viewBox: `0 0 ${width} ${height}`,
      width,
      height,
      role: 'img',
      'aria-labelledby': 'map-title',
      'font-family': FONT,
    },
    element('title', { id: 'map-title' }, escapeXml(title)),
    element(
      'defs',
      {},
      element('marker', { id: 'arrow', orient: 'auto', markerUnits: 'userSpaceOnUse', ...size }, arrow),
    ),
    element('rect', { x: 0, y: 0, width, height, fill: '#ffffff' }),
    textElement(title, MARGIN, 34, { 'font-size': 18, 'font-weight': 'bold', fill: INK }),
    textElement(note, MARGIN, 54, { 'font-size': 12, fill: SOFT }),
    element(
      'g',
      { transform: `translate(${MARGIN} 72)` },
      ...map.headings.map(({ text, x }) =>
        textElement(text, x, 12, { 'font-size': 12, 'font-weight': 'bold', fill: SOFT }),
      ),
      ...lines,
      ...map.nodes.map(nodeSvg),
      ...labelled(map).map(labelSvg),
    ),
  );
}

function arrowPdf(doc: Doc, { points: [, , c, d] }: PlacedEdge): void {
  const angle = Math.atan2(d.y - c.y, d.x - c.x);
  const side = (turn: number) => [d.x - 9 * Math.cos(angle + turn), d.y - 9 * Math.sin(angle + turn)] as const;
  doc
    .moveTo(d.x, d.y)
    .lineTo(...side(0.42))
    .lineTo(...side(-0.42))
    .closePath()
    .fill(SOFT);
}

function drawMap(doc: Doc, map: FlowMap): void {
  doc.font('bold').fontSize(12).fillColor(SOFT);
  for (const { text, x } of map.headings) doc.text(text, x, 2, { lineBreak: false });
  for (const edge of map.edges) {
    doc.path(curve(edge)).lineWidth(edge.thickness);
    if (edge.back) doc.dash(5, { space: 3 });
    doc.stroke(SOFT).undash();
    arrowPdf(doc, edge);
  }
  for (const node of map.nodes) {
    const { x, y, width, height } = node;
    doc.roundedRect(x, y, width, height, 4).lineWidth(1).fillAndStroke(FILL[node.column], INK);
    doc.fillColor(INK);
    for (const [at, { text, bold, size }] of wordsOf(node).entries()) {
      doc.font(bold ? 'bold' : 'regular').fontSize(size);
      doc.text(text, x + PAD, y + PAD - 1 + at * LINE, { lineBreak: false });
    }
  }
  doc.font('regular').fontSize(10);
  for (const edge of labelled(map)) {
    const { x, y } = middleOf(edge.points);
    const width = doc.widthOfString(edge.label) + 6;
    doc
      .fillOpacity(0.88)
      .rect(x - width / 2, y - 7, width, 14)
      .fill('#ffffff')
      .fillOpacity(1);
    doc.fillColor(SOFT).text(edge.label, x - width / 2 + 3, y - 6, { lineBreak: false });
  }
  doc.fillColor('black');
}

export function mapDrawing(map: FlowMap, heading: string, note: string): Drawing {
  return { heading, note, width: map.width, height: map.height, draw: (doc) => drawMap(doc, map) };
}
