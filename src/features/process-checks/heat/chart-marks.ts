/** Colours and the few marks that the panels of a series share. Met and missed differ in shape and dash as well as in colour. */
import { plot, type Chart } from '../../../platform/charts.ts';

export type Mark = NonNullable<Chart['panels'][number]['options']['marks']>[number];

export const INK = {
  food: '#1d4268',
  soft: '#4b545c',
  met: '#2c6b3f',
  missed: '#b3401b',
} as const;
export const MARGINS = { marginLeft: 46, marginRight: 24, marginTop: 16, marginBottom: 38 };

type Row = Readonly<Record<string, unknown>> | object;

export const line = (rows: readonly Row[], y: string, stroke: string, dashed = false): Mark =>
  plot.lineY(rows as Row[], {
    x: 'minute',
    y,
    stroke,
    strokeWidth: 2,
    ...(dashed && { strokeWidth: 1.5, strokeDasharray: '5 4' }),
  });

export const dots = (rows: readonly Row[], y: string, fill: string): Mark =>
  plot.dot(rows as Row[], { x: 'minute', y, r: 2.6, fill });

export const level = (y: number, stroke: string = INK.soft): Mark =>
  plot.ruleY([y], { stroke, strokeWidth: 1, strokeDasharray: '5 4' });

export const frame = (): Mark => plot.frame({ stroke: '#c9ced3' });

export interface Placed {
  readonly dx?: number;
  readonly dy?: number;
  readonly fill?: string;
  readonly textAnchor?: 'start' | 'middle' | 'end';
  readonly fontWeight?: 'bold';
}

/** With a white edge, so that it reads over lines. */
export const label = (text: string, x: number, y: number, placed: Placed = {}): Mark =>
  plot.text([text], { x, y, fill: INK.soft, stroke: '#ffffff', strokeWidth: 4, textAnchor: 'start', ...placed });
