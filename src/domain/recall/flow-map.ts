/**
 * The map of a case's food: suppliers, lots together by item and kitchen, sites; and what went from one to the other. Pure: it says which
 * boxes and lines there are and where, and knows nothing of how they are drawn. Lots are never drawn singly, and a column that grows too
 * long ends in one box for the rest, so that 65,000 lots are as readable as five. Refusals: none.
 */
const COLUMNS = ['supplier', 'supplied', 'produced', 'packed', 'converted', 'site'] as const;
export type FlowColumn = (typeof COLUMNS)[number];

export interface FlowNode {
  readonly id: string;
  readonly column: FlowColumn;
  /** in lines that fit a box */
  readonly title: readonly string[];
  readonly lines: readonly string[];
  /** lots; the largest are drawn by themselves */
  readonly weight: number;
}

export interface FlowEdge {
  readonly from: string;
  readonly to: string;
  readonly weight: number;
  /** left out where lines were put together that say different things */
  readonly label: string;
}

export interface PlacedNode extends FlowNode {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

export interface PlacedEdge extends FlowEdge {
  /** start, two control points, end */
  readonly points: readonly [Point, Point, Point, Point];
  /** goes to the same column or back: food of one lot went into another of its kind */
  readonly back: boolean;
  readonly thickness: number;
}

export interface Point {
  readonly x: number;
  readonly y: number;
}

export interface FlowMap {
  readonly width: number;
  readonly height: number;
  readonly nodes: readonly PlacedNode[];
  readonly edges: readonly PlacedEdge[];
  readonly headings: readonly { readonly text: string; readonly x: number }[];
}

const HEADINGS: Readonly<Record<FlowColumn, string>> = {
  supplier: 'Suppliers',
  supplied: 'Supplied',
  produced: 'Made',
  packed: 'Packed',
  converted: 'Opened, frozen, thawed ...',
  site: 'Sites: where it is, or went',
};

/** In pixels of the picture; a print scales them. */
export const BOX = 190;
const GAP = 84;
const LINE = 15;
export const PAD = 8;
const SPACE = 12;
const HEADING = 26;
const LOOP = 46;

function trimmed(nodes: readonly FlowNode[], edges: readonly FlowEdge[], most: number) {
  const kept: FlowNode[] = [];
  const into = new Map<string, string>();
  for (const column of COLUMNS) {
    const own = nodes.filter((node) => node.column === column);
    own.sort((a, b) => b.weight - a.weight || (a.title.join(' ') < b.title.join(' ') ? -1 : 1));
    const shown = own.length > most ? own.slice(0, most - 1) : own;
    const rest = own.slice(shown.length);
    kept.push(...shown);
    if (rest.length === 0) continue;
    const id = `${column}|rest`;
    for (const node of rest) into.set(node.id, id);
    const weight = rest.reduce((sum, node) => sum + node.weight, 0);
    kept.push({ id, column, title: [`${rest.length} more`], lines: ['in the tables and the file'], weight });
  }
  const merged = new Map<string, FlowEdge>();
  for (const edge of edges) {
    const from = into.get(edge.from) ?? edge.from;
    const to = into.get(edge.to) ?? edge.to;
    const known = merged.get(`${from}>${to}`);
    const together = { from, to, weight: edge.weight + (known?.weight ?? 0), label: known ? '' : edge.label };
    merged.set(`${from}>${to}`, together);
  }
  return { nodes: kept, edges: [...merged.values()] };
}

const heightOf = (node: FlowNode): number => (node.title.length + node.lines.length) * LINE + 2 * PAD;

/** Each column in the order of what leads to it, so that few lines cross. */
function ordered(nodes: readonly FlowNode[], edges: readonly FlowEdge[]): FlowNode[][] {
  const middle = new Map<string, number>();
  return COLUMNS.map((column) => {
    const own = nodes.filter((node) => node.column === column);
    const pull = new Map(
      own.map((node) => {
        const from = edges.flatMap((edge) => (edge.to === node.id ? (middle.get(edge.from) ?? []) : []));
        return [node.id, from.length === 0 ? Infinity : from.reduce((sum, at) => sum + at, 0) / from.length] as const;
      }),
    );
    const rank = (node: FlowNode) => (node.id.endsWith('|rest') ? 1 : 0);
    const pulled = (node: FlowNode) => pull.get(node.id) ?? Infinity;
    own.sort((a, b) => {
      if (rank(a) !== rank(b)) return rank(a) - rank(b);
      return pulled(a) === pulled(b) ? b.weight - a.weight : pulled(a) - pulled(b);
    });
    own.forEach((node, at) => middle.set(node.id, (at + 0.5) / own.length));
    return own;
  }).filter((column) => column.length > 0);
}

/** @param most boxes in one column, the one for the rest included */
export function layOutFlow(all: readonly FlowNode[], every: readonly FlowEdge[], most: number): FlowMap {
  const { nodes, edges } = trimmed(all, every, most);
  const columns = ordered(nodes, edges);
  const heights = columns.map((own) => own.reduce((sum, node) => sum + heightOf(node) + SPACE, -SPACE));
  const inner = Math.max(0, ...heights);
  const placed = new Map<string, PlacedNode>();
  const columnOf = new Map<string, number>();
  const headings = columns.map((own, at) => ({
    text: HEADINGS[own[0]?.column ?? 'site'],
    x: at * (BOX + GAP),
  }));
  columns.forEach((own, at) => {
    let y = HEADING + (inner - (heights[at] ?? 0)) / 2;
    for (const node of own) {
      const height = heightOf(node);
      placed.set(node.id, { ...node, x: at * (BOX + GAP), y, width: BOX, height });
      columnOf.set(node.id, at);
      y += height + SPACE;
    }
  });
  // A line for one lot stays thin, however few there are.
  const heaviest = Math.max(20, ...edges.map((edge) => edge.weight));
  const drawn = edges.flatMap((edge): PlacedEdge[] => {
    const [a, b] = [placed.get(edge.from), placed.get(edge.to)];
    if (!a || !b || a === b) return [];
    const back = (columnOf.get(b.id) ?? 0) <= (columnOf.get(a.id) ?? 0);
    const start = { x: a.x + a.width, y: a.y + a.height / 2 };
    const end = back ? { x: b.x + b.width, y: b.y + b.height / 2 } : { x: b.x, y: b.y + b.height / 2 };
    const reach = back ? LOOP : (end.x - start.x) / 2;
    const points = [
      start,
      { x: start.x + reach, y: start.y },
      { x: end.x + (back ? reach : -reach), y: end.y },
      end,
    ] as const;
    return [{ ...edge, points, back, thickness: 1 + 3.5 * Math.sqrt(edge.weight / heaviest) }];
  });
  const width = Math.max(0, columns.length * (BOX + GAP) - GAP) + (drawn.some((edge) => edge.back) ? LOOP : 0);
  return { width, height: HEADING + inner, nodes: [...placed.values()], edges: drawn, headings };
}

/** The middle of a line, for its label. */
export function middleOf([a, b, c, d]: PlacedEdge['points']): Point {
  return { x: (a.x + 3 * b.x + 3 * c.x + d.x) / 8, y: (a.y + 3 * b.y + 3 * c.y + d.y) / 8 };
}

/** With more lines than these, labels would cover each other: the tables say it. */
export const MOST_LABELS = 40;
