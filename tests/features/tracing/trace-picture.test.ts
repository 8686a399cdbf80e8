import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { renderTraceSvg, type TraceNode, type TracePicture } from '../../../src/features/tracing/trace-picture.ts';

function lot(id: string, more: Partial<TraceNode> = {}): TraceNode {
  return {
    id,
    kind: 'produced',
    code: `LOT-${id}`,
    item: 'Beef and barley stew',
    quantityText: '12.000 kg',
    lines: [],
    held: false,
    isStart: false,
    ...more,
  };
}

const stew: TracePicture = {
  title: 'Trace of lot BEEF-7731',
  direction: 'forward',
  nodes: [
    lot('1', {
      kind: 'supplied',
      code: 'BEEF-7731',
      held: true,
      isStart: true,
      lines: ['In stock: chiller 2, 4.500 kg'],
    }),
    lot('2', { code: 'STEW-261124-01', held: true }),
    lot('3', { kind: 'packed', code: 'STEW-261125-01', quantityText: '40 packs', lines: ['Ward 3: 12', 'Served: 28'] }),
  ],
  edges: [
    { from: '1', to: '2', label: '36.000 kg' },
    { from: '2', to: '3' },
  ],
};

function drawn(picture: TracePicture): string {
  const svg = renderTraceSvg(picture);
  if (typeof svg !== 'string') throw new Error(svg.refusal);
  return svg;
}

interface Parsed {
  elements: { name: string; attributes: Record<string, string> }[];
  texts: string[];
}

/** A strict reading of the XML that is used here: elements, quoted attributes, text with the five entities, nothing else. */
function parseXml(xml: string): Parsed {
  const unescape = (text: string): string => {
    expect(text).not.toMatch(/[<>]|&(?!(amp|lt|gt|quot|apos);)/);
    const entities: Record<string, string> = { amp: '&', lt: '<', gt: '>', quot: '"', apos: "'" };
    return text.replace(/&(\w+);/g, (_, name: string) => entities[name] ?? '');
  };
  const parsed: Parsed = { elements: [], texts: [] };
  const open: string[] = [];
  const token = /<(\/?)([a-z][A-Za-z]*)((?: [A-Za-z][\w-]*="[^"<]*")*)(\/?)>|([^<]+)/gy;
  let end = 0;
  for (let found = token.exec(xml); found; found = token.exec(xml)) {
    const [whole, closing, name = '', list = '', empty, text] = found;
    end += whole.length;
    if (text !== undefined) {
      expect(open.length).toBeGreaterThan(0);
      if (open.at(-1) === 'text') parsed.texts.push(unescape(text));
      else unescape(text);
    } else if (closing === '/') {
      expect(open.pop()).toBe(name);
    } else {
      const pairs = [...list.matchAll(/ ([\w-]+)="([^"]*)"/g)].map(([, key, value]) => [key, unescape(value ?? '')]);
      expect(new Set(pairs.map(([key]) => key)).size).toBe(pairs.length);
      parsed.elements.push({ name, attributes: Object.fromEntries(pairs) as Record<string, string> });
      if (empty !== '/') open.push(name);
    }
    if (open.length === 0) break;
  }
  expect(end).toBe(xml.length);
  // XML 1.0 allows no other control characters, and no half of a surrogate pair.
  expect(xml).not.toMatch(/[\u0000-\u0008\u000B\u000C\u000E-\u001F\uFFFE\uFFFF]|\p{Cs}/u);
  return parsed;
}

/** The boxes of the lots: outlined rectangles wider than the legend's. */
function boxesIn(svg: string): { x: number; y: number; width: number; height: number }[] {
  return parseXml(svg)
    .elements.filter(({ name, attributes }) => name === 'rect' && attributes['rx'] === '5' && attributes['stroke'])
    .map(({ attributes }) => attributes)
    .map((a) => ({ x: Number(a['x']), y: Number(a['y']), width: Number(a['width']), height: Number(a['height']) }))
    .filter(({ width }) => width > 100);
}

describe('the picture', () => {
  const svg = drawn(stew);
  const { elements, texts } = parseXml(svg);

  test('is one SVG document as big as its content, with a name for those who cannot see it', () => {
    const root = elements[0];
    expect(root?.name).toBe('svg');
    expect(root?.attributes['viewBox']).toMatch(/^0 0 \d+ \d+$/);
    expect(root?.attributes['font-family']).toContain('sans-serif');
    expect(svg).toContain('<title id="trace-title">Trace of lot BEEF-7731</title>');
    expect(svg).toContain('On hold: BEEF-7731, STEW-261124-01.');
  });

  test('shows every lot with its item, quantity and further lines', () => {
    for (const text of ['BEEF-7731', 'STEW-261124-01', 'STEW-261125-01', '40 packs', 'Ward 3: 12', 'Served: 28']) {
      expect(texts).toContain(text);
    }
    expect(texts.filter((text) => text === 'Beef and barley stew')).toHaveLength(3);
  });

  test('marks held lots by words and by hatching, and the start by words', () => {
    expect(texts.filter((text) => text === 'ON HOLD')).toHaveLength(2);
    // Two lots and the legend.
    expect(svg.match(/fill="url\(#held\)"/g)).toHaveLength(3);
    expect(elements.some(({ name, attributes }) => name === 'pattern' && attributes['id'] === 'held')).toBe(true);
    // The lot and the legend.
    expect(texts.filter((text) => text === 'Start of this trace')).toHaveLength(2);
  });

  test('draws an arrow for each edge, labels where given, and a legend', () => {
    const arrows = elements.filter(({ name, attributes }) => name === 'path' && attributes['marker-end']);
    expect(arrows).toHaveLength(stew.edges.length + 1);
    for (const text of ['36.000 kg', 'Supplied', 'Produced', 'Packed', 'On hold', 'went into'])
      expect(texts).toContain(text);
  });

  test('food flows from left to right, whatever the order of the list', () => {
    const left = (svgText: string, code: string): number => {
      const found = new RegExp(`<text x="([\\d.]+)"[^>]*>${code}</text>`).exec(svgText);
      return Number(found?.[1]);
    };
    for (const text of [svg, drawn({ ...stew, direction: 'back', nodes: [...stew.nodes].reverse() })]) {
      expect(left(text, 'BEEF-7731')).toBeLessThan(left(text, 'STEW-261124-01'));
      expect(left(text, 'STEW-261124-01')).toBeLessThan(left(text, 'STEW-261125-01'));
    }
  });

  test('the same trace gives the same text; the three directions read differently', () => {
    expect(drawn(stew)).toBe(svg);
    expect(new Set((['back', 'forward', 'both'] as const).map((direction) => drawn({ ...stew, direction }))).size).toBe(
      3,
    );
  });
});

describe('any trace', () => {
  test('texts of any kind come out escaped and whole', () => {
    const nasty = `<script>alert("x")</script> & 'Ä' ]]> \u0000 \uD800 é`;
    const svg = drawn({
      ...stew,
      title: nasty,
      nodes: [lot('a', { code: nasty, item: nasty, lines: [nasty] }), lot('b"<')],
      edges: [{ from: 'a', to: 'b"<', label: nasty }],
    });
    const { texts, elements } = parseXml(svg);
    expect(elements.some(({ name }) => name === 'script')).toBe(false);
    expect(texts).toContain(nasty.replace(/[\u0000\uD800]/gu, '\uFFFD'));
  });

  test('fuzzed texts stay well-formed XML', () => {
    const text = fc.string({ unit: 'binary', maxLength: 60 });
    fc.assert(
      fc.property(text, text, text, (title, item, line) => {
        parseXml(drawn({ ...stew, title, nodes: [lot('1', { item, lines: [line] })], edges: [] }));
      }),
      { numRuns: 200 },
    );
  });

  test('no two boxes overlap and all of them stand inside the picture', () => {
    const size = fc.integer({ min: 1, max: 25 });
    const graph = size.chain((count) =>
      fc.record({
        count: fc.constant(count),
        pairs: fc.array(fc.tuple(fc.nat(count - 1), fc.nat(count - 1)), { maxLength: 40 }),
        long: fc.array(fc.string({ maxLength: 90 }), { maxLength: 6 }),
      }),
    );
    fc.assert(
      fc.property(graph, ({ count, pairs, long }) => {
        const nodes = Array.from({ length: count }, (_, i) => lot(String(i), { lines: long, held: i % 2 === 0 }));
        const edges = pairs.filter(([a, b]) => a < b).map(([a, b]) => ({ from: String(a), to: String(b) }));
        const svg = drawn({ ...stew, nodes, edges });
        const boxes = boxesIn(svg);
        const [, shiftX, shiftY] = /translate\(([\d.]+) ([\d.]+)\)/.exec(svg) ?? [];
        const [, width, height] = /viewBox="0 0 (\d+) (\d+)"/.exec(svg) ?? [];
        expect(boxes).toHaveLength(count);
        boxes.forEach((a, i) => {
          expect(a.x).toBeGreaterThanOrEqual(-0.1);
          expect(a.y).toBeGreaterThanOrEqual(-0.1);
          expect(a.x + a.width + Number(shiftX)).toBeLessThanOrEqual(Number(width));
          expect(a.y + a.height + Number(shiftY)).toBeLessThanOrEqual(Number(height));
          for (const b of boxes.slice(i + 1)) {
            const apart =
              a.x + a.width <= b.x || b.x + b.width <= a.x || a.y + a.height <= b.y || b.y + b.height <= a.y;
            expect(apart).toBe(true);
          }
        });
      }),
      { numRuns: 40 },
    );
  });

  test('one lot alone, and none at all, are pictures too', () => {
    expect(boxesIn(drawn({ ...stew, nodes: [lot('1')], edges: [] }))).toHaveLength(1);
    expect(boxesIn(drawn({ ...stew, nodes: [], edges: [] }))).toHaveLength(0);
  });

  test('the same lot may go into another twice: two arrows', () => {
    const twice = [
      { from: '1', to: '2', label: '1.000 kg' },
      { from: '1', to: '2', label: '2.000 kg' },
    ];
    const { texts } = parseXml(drawn({ ...stew, edges: twice }));
    expect(texts).toEqual(expect.arrayContaining(['1.000 kg', '2.000 kg']));
  });
});

describe('refusals and faults', () => {
  const many = (count: number): TraceNode[] => Array.from({ length: count }, (_, i) => lot(String(i)));
  const refusal = { refusal: 'trace-too-large-to-draw' };

  test('300 lots are drawn, 301 are refused, never thinned out', () => {
    expect(boxesIn(drawn({ ...stew, nodes: many(300), edges: [] }))).toHaveLength(300);
    expect(renderTraceSvg({ ...stew, nodes: many(301), edges: [] })).toEqual(refusal);
  });

  test('601 arrows are refused', () => {
    const edges = Array.from({ length: 601 }, () => ({ from: '0', to: '1' }));
    expect(renderTraceSvg({ ...stew, nodes: many(2), edges })).toEqual(refusal);
  });

  test('an arrow to nowhere and two lots with one id are faults', () => {
    expect(() => renderTraceSvg({ ...stew, edges: [{ from: '1', to: '9' }] })).toThrow(RangeError);
    expect(() => renderTraceSvg({ ...stew, nodes: [lot('1'), lot('1')], edges: [] })).toThrow(RangeError);
  });
});
