/**
 * Where the boxes and arrows of a trace stand: layers from left to right, few crossings. Why a door of its own: the layout
 * library's published types do not resolve under this module setting, so what we use of it is declared here, once.
 *
 * Refusals: none. An arrow to a box that is not there is a fault and throws RangeError.
 */
import * as dagre from '@dagrejs/dagre';

export interface Point {
  x: number;
  y: number;
}

interface LayoutGraph {
  setGraph(settings: { rankdir: 'LR'; nodesep: number; ranksep: number; edgesep: number }): unknown;
  setNode(id: string, size: { width: number; height: number }): unknown;
  setEdge(from: string, to: string, room: { width?: number; height?: number; labelpos?: 'c' }, name: string): unknown;
  hasNode(id: string): boolean;
  graph(): { width?: number; height?: number };
  node(id: string): Point;
  edge(from: string, to: string, name: string): { points?: Point[] } & Partial<Point>;
}

const { Graph, layout } = dagre as unknown as {
  Graph: new (options: { multigraph: true }) => LayoutGraph;
  layout: (graph: LayoutGraph) => unknown;
};

const LABEL_HEIGHT_PX = 18;
/** Arrows keep this far from a box's corners. */
const CORNER_PX = 12;

export interface LaidOutGraph {
  widthPx: number;
  heightPx: number;
  /** Centres of the boxes, in the order given. */
  nodes: Point[];
  /** Bends of the arrows from box edge to box edge, and where a label may stand, in the order given. */
  edges: { points: Point[]; labelAt: Point | null }[];
}

/**
 * Places boxes (sizes in pixels) and arrows; a label width of 0 reserves no room.
 * @throws RangeError when an arrow names a box that is not in the list
 */
export function layOutGraph(
  boxes: readonly { id: string; widthPx: number; heightPx: number }[],
  arrows: readonly { from: string; to: string; labelWidthPx: number }[],
): LaidOutGraph {
  if (boxes.length === 0 && arrows.length === 0) return { widthPx: 0, heightPx: 0, nodes: [], edges: [] };
  const graph = new Graph({ multigraph: true });
  graph.setGraph({ rankdir: 'LR', nodesep: 34, ranksep: 64, edgesep: 14 });
  for (const { id, widthPx, heightPx } of boxes) graph.setNode(id, { width: widthPx, height: heightPx });
  arrows.forEach(({ from, to, labelWidthPx }, index) => {
    if (!graph.hasNode(from) || !graph.hasNode(to)) throw new RangeError(`An arrow leads to no lot: ${from} to ${to}`);
    const room = labelWidthPx > 0 ? { width: labelWidthPx, height: LABEL_HEIGHT_PX, labelpos: 'c' as const } : {};
    graph.setEdge(from, to, room, String(index));
  });
  layout(graph);
  const boxById = new Map(boxes.map((box) => [box.id, box]));
  const { width = 0, height = 0 } = graph.graph();
  return {
    widthPx: width,
    heightPx: height,
    nodes: boxes.map(({ id }) => graph.node(id)),
    edges: arrows.map(({ from, to }, index) => {
      const { points = [], x, y } = graph.edge(from, to, String(index));
      const through = points.slice(1, -1);
      const starts = sideOf(graph.node(from), boxById.get(from), 1, through[0] ?? graph.node(to));
      const ends = sideOf(graph.node(to), boxById.get(to), -1, through.at(-1) ?? graph.node(from));
      return { points: [starts, ...through, ends], labelAt: x === undefined || y === undefined ? null : { x, y } };
    }),
  };
}

/** Food flows left to right: an arrow leaves a box at its right side and enters at the left, as near to its way as it can. */
function sideOf(
  centre: Point,
  box: { widthPx: number; heightPx: number } | undefined,
  side: 1 | -1,
  towards: Point,
): Point {
  const { widthPx, heightPx } = box ?? { widthPx: 0, heightPx: 0 };
  const reach = Math.max(0, heightPx / 2 - CORNER_PX);
  const y = Math.min(Math.max(towards.y, centre.y - reach), centre.y + reach);
  return { x: centre.x + (side * widthPx) / 2, y };
}
