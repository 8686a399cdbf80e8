/**
 * Draws a trace as a picture: lots as boxes, left to right in the order that food flows, arrows from what went in to what
 * came out. Why a picture of its own and not only a table: in a recall people see at once which branch is held and where
 * the rest went. A held lot is marked by words and by hatching, never by colour alone, so that it survives a black-and-
 * white print and colour blindness. The picture is complete or it is not made: nothing is left out to make it fit.
 *
 * Refusals: `trace-too-large-to-draw` (more than 300 lots, or more than 600 arrows).
 */
import { layOutGraph, type Point } from './trace-layout.ts';
import { edgePath, element, escapeXml, textElement, textWidthPx, wrapText } from './trace-svg-parts.ts';

export interface TraceNode {
  id: string;
  kind: 'supplied' | 'produced' | 'packed' | 'converted' | 'opening';
  /** Lot code. */
  code: string;
  item: string;
  quantityText: string;
  /** Further facts, one a line, as in `In stock: Ward 3 chiller 12` or `Served: 30`. */
  lines: string[];
  held: boolean;
  /** The lot that the trace began with. */
  isStart: boolean;
}

interface TraceEdge {
  /** Node id of what went in. */
  from: string;
  /** Node id of what came out. */
  to: string;
  label?: string | undefined;
}

export interface TracePicture {
  title: string;
  direction: 'back' | 'forward' | 'both';
  nodes: TraceNode[];
  edges: TraceEdge[];
}

const MOST_NODES = 300;
/** The layout holds the process: 300 lots took 1.6 s with 580 arrows and 2.7 s with 1400, on two shared cores. */
const MOST_EDGES = 600;
const MARGIN_PX = 28;
const HEADER_PX = 26;
const PAD_PX = 10;
const LINE_PX = 16;
const INNER_PX = { min: 150, max: 250 };
const FONT_FAMILY = "'DejaVu Sans', Verdana, 'Segoe UI', Arial, sans-serif";

const KINDS = {
  supplied: { label: 'Supplied', fill: '#dbe7f3', ink: '#1d4268' },
  produced: { label: 'Produced', fill: '#e3efdc', ink: '#2c5218' },
  packed: { label: 'Packed', fill: '#efe6f5', ink: '#512a6b' },
  converted: { label: 'Converted', fill: '#f6ead3', ink: '#63440c' },
  opening: { label: 'Opening stock', fill: '#e6e8ea', ink: '#3a4249' },
} as const;
const COMMON: ReadonlySet<string> = new Set(['supplied', 'produced', 'packed']);
const INK = '#1c2126';
const SOFT_INK = '#4b545c';
const HELD_INK = '#8a1c12';
const PAPER = '#ffffff';

const DIRECTIONS = {
  back: 'Back: what went into it',
  forward: 'Forward: what was made from it, and where it is',
  both: 'Back and forward: what went into it, what was made from it, and where it is',
} as const;

interface Row {
  text: string;
  fontPx: number;
  bold: boolean;
  ink: string;
}

interface Box {
  node: TraceNode;
  rows: Row[];
  widthPx: number;
  heightPx: number;
}

function boxOf(node: TraceNode): Box {
  const source: Row[] = [
    { text: node.code, fontPx: 13, bold: true, ink: INK },
    { text: node.item, fontPx: 12, bold: false, ink: INK },
    { text: node.quantityText, fontPx: 12, bold: true, ink: INK },
    ...node.lines.map((text) => ({ text, fontPx: 11, bold: false, ink: SOFT_INK })),
  ];
  const rows = source.flatMap((row) =>
    wrapText(row.text, row.fontPx, INNER_PX.max, row.bold).map((text) => ({ ...row, text })),
  );
  const widest = Math.max(INNER_PX.min, ...rows.map((row) => textWidthPx(row.text, row.fontPx, row.bold)));
  return {
    node,
    rows,
    widthPx: Math.ceil(widest) + 2 * PAD_PX,
    heightPx: HEADER_PX + rows.length * LINE_PX + PAD_PX + 4,
  };
}

function drawBox({ node, rows, widthPx, heightPx }: Box, leftPx: number, topPx: number): string {
  const kind = KINDS[node.kind];
  const parts = [
    element('title', {}, escapeXml(`${node.code}: ${node.item}${node.held ? ' (on hold)' : ''}`)),
    ...(node.isStart
      ? [
          frame(leftPx - 5, topPx - 5, widthPx + 10, heightPx + 10, {
            fill: 'none',
            stroke: INK,
            'stroke-width': 3,
            rx: 9,
          }),
        ]
      : []),
    frame(leftPx, topPx, widthPx, heightPx, { fill: PAPER, rx: 5 }),
    element('path', { d: headerPath(leftPx, topPx, widthPx), fill: kind.fill }),
    ...(node.held ? [drawHatching(node, leftPx, topPx, widthPx)] : []),
    textElement(kind.label, leftPx + PAD_PX, topPx + 17.5, { 'font-size': 11, 'font-weight': 'bold', fill: kind.ink }),
    ...(node.held ? [drawHeldTag(leftPx + widthPx - 74, topPx + 5)] : []),
    frame(leftPx, topPx, widthPx, heightPx, {
      fill: 'none',
      stroke: node.held ? HELD_INK : kind.ink,
      'stroke-width': node.held ? 2.5 : 1.2,
      rx: 5,
    }),
    ...(node.isStart
      ? [textElement('Start of this trace', leftPx, topPx - 10, { 'font-size': 11, 'font-weight': 'bold', fill: INK })]
      : []),
    ...rows.map((row, index) =>
      textElement(row.text, leftPx + PAD_PX, topPx + HEADER_PX + (index + 1) * LINE_PX, {
        'font-size': row.fontPx,
        fill: row.ink,
        ...(row.bold ? { 'font-weight': 'bold' } : {}),
      }),
    ),
  ];
  return element('g', {}, ...parts);
}

/** Hatching over a box's head, with a plain patch left under the kind so that it stays readable. */
function drawHatching({ kind }: TraceNode, leftPx: number, topPx: number, widthPx: number): string {
  const { label, fill } = KINDS[kind];
  return (
    element('path', { d: headerPath(leftPx, topPx, widthPx), fill: 'url(#held)' }) +
    frame(leftPx + 5, topPx + 5, textWidthPx(label, 11, true) + 10, 16, { fill, rx: 3 })
  );
}

function frame(x: number, y: number, width: number, height: number, rest: Record<string, string | number>): string {
  return element('rect', { x, y, width, height, ...rest });
}

/** The band at a box's head, round above and square below. */
function headerPath(x: number, y: number, width: number): string {
  return `M${x} ${y + HEADER_PX}V${y + 5}q0 -5 5 -5H${x + width - 5}q5 0 5 5V${y + HEADER_PX}Z`;
}

function drawHeldTag(x: number, y: number): string {
  return (
    frame(x, y, 67, 16, { fill: HELD_INK, rx: 3 }) +
    textElement('ON HOLD', x + 33.5, y + 12, {
      'font-size': 10.5,
      'font-weight': 'bold',
      fill: PAPER,
      'text-anchor': 'middle',
    })
  );
}

function labelWidthPx(text: string): number {
  return textWidthPx(text, 10.5) + 8;
}

function drawEdgeLabel(text: string, centre: Point): string {
  const widthPx = labelWidthPx(text);
  return (
    frame(centre.x - widthPx / 2, centre.y - 8, widthPx, 16, { fill: PAPER, 'fill-opacity': 0.9, rx: 3 }) +
    textElement(text, centre.x, centre.y + 4, { 'font-size': 10.5, fill: SOFT_INK, 'text-anchor': 'middle' })
  );
}

/** What comes from sites is explained only where there is some. */
function drawLegend(topPx: number, shown: ReadonlySet<TraceNode['kind']>): { svg: string; widthPx: number } {
  let x = MARGIN_PX;
  const parts: string[] = [];
  const say = (text: string): void => {
    parts.push(textElement(text, x + 30, topPx + 12, { 'font-size': 11, fill: INK }));
    x += 30 + textWidthPx(text, 11) + 22;
  };
  for (const [kind, { label, fill, ink }] of Object.entries(KINDS)) {
    if (!COMMON.has(kind) && !shown.has(kind as TraceNode['kind'])) continue;
    parts.push(frame(x, topPx, 24, 16, { fill, stroke: ink, rx: 3 }));
    say(label);
  }
  parts.push(frame(x, topPx, 24, 16, { fill: PAPER, rx: 3 }));
  parts.push(frame(x, topPx, 24, 16, { fill: 'url(#held)', stroke: HELD_INK, 'stroke-width': 2, rx: 3 }));
  say('On hold');
  parts.push(frame(x, topPx, 24, 16, { fill: 'none', stroke: INK, 'stroke-width': 3, rx: 5 }));
  say('Start of this trace');
  parts.push(element('path', { d: `M${x} ${topPx + 8}h23`, stroke: SOFT_INK, 'marker-end': 'url(#arrow)' }));
  say('went into');
  return { svg: parts.join(''), widthPx: x };
}

const DEFINITIONS = element(
  'defs',
  {},
  element(
    'pattern',
    { id: 'held', width: 7, height: 7, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' },
    element('path', { d: 'M1 0V7', stroke: HELD_INK, 'stroke-width': 2 }),
  ),
  element(
    'marker',
    { id: 'arrow', viewBox: '0 0 10 10', refX: 9, refY: 5, markerWidth: 8, markerHeight: 8, orient: 'auto' },
    element('path', { d: 'M0 0.5L10 5L0 9.5Z', fill: SOFT_INK }),
  ),
);

/**
 * The picture as one SVG document, as wide and as high as its content.
 * @returns SVG text, or a refusal when there are too many lots or arrows to read or to lay out
 * @throws RangeError when an arrow names a lot that is not in the list, or two lots have one id
 */
export function renderTraceSvg(input: TracePicture): string | { refusal: 'trace-too-large-to-draw' } {
  const { title, direction, nodes, edges } = input;
  if (nodes.length > MOST_NODES || edges.length > MOST_EDGES) return { refusal: 'trace-too-large-to-draw' };
  const boxes = nodes.map(boxOf);
  const boxById = new Map(boxes.map((box) => [box.node.id, box]));
  if (boxById.size !== nodes.length) throw new RangeError('Two lots of a trace have one id');
  const laid = layOutGraph(
    boxes.map((box) => ({ id: box.node.id, widthPx: box.widthPx, heightPx: box.heightPx })),
    edges.map(({ from, to, label }) => ({ from, to, labelWidthPx: label === undefined ? 0 : labelWidthPx(label) })),
  );

  const topPx = 76;
  const { widthPx: contentWidthPx, heightPx: contentHeightPx } = laid;
  const legend = drawLegend(topPx + contentHeightPx + 34, new Set(nodes.map((node) => node.kind)));
  const titleLines = wrapText(title, 18, Math.max(contentWidthPx, legend.widthPx) - MARGIN_PX, true);
  // Titles of several lines push the content down.
  const downPx = (titleLines.length - 1) * 22;
  const widthPx = Math.ceil(Math.max(contentWidthPx + 2 * MARGIN_PX, legend.widthPx + MARGIN_PX));
  const heightPx = Math.ceil(topPx + contentHeightPx + 76 + downPx);

  const drawn = edges.map(({ label }, index) => {
    const { points, labelAt } = laid.edges[index] ?? { points: [], labelAt: null };
    const line = element('path', {
      d: edgePath(points),
      fill: 'none',
      stroke: SOFT_INK,
      'stroke-width': 1.4,
      'marker-end': 'url(#arrow)',
    });
    return { line, label: label === undefined || !labelAt ? '' : drawEdgeLabel(label, labelAt) };
  });
  const placed = boxes.map((box, index) => {
    const { x, y } = laid.nodes[index] ?? { x: 0, y: 0 };
    return drawBox(box, x - box.widthPx / 2, y - box.heightPx / 2);
  });

  return element(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      viewBox: `0 0 ${widthPx} ${heightPx}`,
      width: widthPx,
      height: heightPx,
      role: 'img',
      'aria-labelledby': 'trace-title trace-description',
      'font-family': FONT_FAMILY,
    },
    element('title', { id: 'trace-title' }, escapeXml(title)),
    element('desc', { id: 'trace-description' }, escapeXml(describe(input))),
    DEFINITIONS,
    frame(0, 0, widthPx, heightPx, { fill: PAPER }),
    ...titleLines.map((line, index) =>
      textElement(line, MARGIN_PX, 34 + index * 22, { 'font-size': 18, 'font-weight': 'bold', fill: INK }),
    ),
    textElement(DIRECTIONS[direction], MARGIN_PX, 55 + downPx, { 'font-size': 12, fill: SOFT_INK }),
    element(
      'g',
      { transform: `translate(${MARGIN_PX} ${topPx + 12 + downPx})` },
      ...drawn.map(({ line }) => line),
      ...placed,
      ...drawn.map(({ label }) => label),
    ),
    element('g', { transform: `translate(0 ${downPx})` }, legend.svg),
  );
}

function describe({ nodes, edges, direction }: TracePicture): string {
  const held = nodes.filter((node) => node.held).map((node) => node.code);
  return `${DIRECTIONS[direction]}. Lots: ${nodes.length}. Arrows: ${edges.length}. On hold: ${held.join(', ') || 'none'}.`;
}
