import { describe, expect, test } from 'vitest';
import { layOutFlow, middleOf, type FlowEdge, type FlowNode } from '../../src/domain/recall/flow-map.ts';

const node = (id: string, column: FlowNode['column'], weight = 1, lines = ['1 lot']): FlowNode => ({
  id,
  column,
  title: [id],
  lines,
  weight,
});
const edge = (from: string, to: string, weight = 1): FlowEdge => ({ from, to, weight, label: `${weight} lots` });

describe('the map of a case', () => {
  test('columns in the order in which food flows, empty ones left out, no two boxes on top of each other', () => {
    const nodes = [node('ward', 'site'), node('packs', 'packed'), node('farm', 'supplier'), node('shin', 'supplied')];
    const map = layOutFlow(nodes, [edge('farm', 'shin'), edge('shin', 'packs'), edge('packs', 'ward')], 10);
    expect([...map.nodes].sort((a, b) => a.x - b.x).map((one) => one.id)).toEqual(['farm', 'shin', 'packs', 'ward']);
    expect(map.headings.map((heading) => heading.text)).toEqual([
      'Suppliers',
      'Supplied',
      'Packed',
      'Sites: where it is, or went',
    ]);
    for (const { points, back } of map.edges) {
      expect(back).toBe(false);
      expect(points[3].x).toBeGreaterThan(points[0].x);
    }
  });

  test('whatever the number, a column holds so many boxes; the last one stands for the rest, and no lot is lost', () => {
    const items = Array.from({ length: 300 }, (_, at) => node(`i${at}`, 'packed', at + 1, ['a', 'b']));
    const edges = items.map(({ id, weight }) => edge('farm', id, weight));
    const map = layOutFlow([node('farm', 'supplier', 300), ...items], edges, 12);
    const packed = map.nodes.filter((one) => one.column === 'packed').sort((a, b) => a.y - b.y);
    expect(packed).toHaveLength(12);
    expect(packed.at(-1)?.title).toEqual(['289 more']);
    // 1 + 2 + ... + 300
    expect(packed.reduce((sum, one) => sum + one.weight, 0)).toBe(45_150);
    expect(map.edges).toHaveLength(12);
    expect(map.edges.reduce((sum, one) => sum + one.weight, 0)).toBe(45_150);
    expect(map.edges.find((one) => one.to === 'packed|rest')?.label).toBe('');
    for (const [at, one] of packed.slice(1).entries()) {
      const above = packed[at];
      expect(one.y).toBeGreaterThan((above?.y ?? 0) + (above?.height ?? 0));
    }
    expect(Math.max(...packed.map((one) => one.y + one.height))).toBeLessThanOrEqual(map.height);
  });

  test('rework: a line to the same column goes round outside, and the picture is wide enough for it', () => {
    const map = layOutFlow([node('stew', 'produced'), node('soup', 'produced')], [edge('stew', 'soup')], 10);
    const [line] = map.edges;
    expect(line?.back).toBe(true);
    const most = Math.max(...(line?.points ?? []).map((point) => point.x));
    expect(most).toBeGreaterThan(190);
    expect(most).toBeLessThanOrEqual(map.width);
    expect(line && middleOf(line.points).x).toBeLessThan(most);
  });

  test('nothing at all is an empty map', () => {
    expect(layOutFlow([], [], 5)).toMatchObject({ width: 0, nodes: [], edges: [] });
  });
});
