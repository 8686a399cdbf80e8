/** A Data Matrix symbol as filled paths, so that it stays sharp at any printer's resolution. */
import bwip from 'bwip-js/node';
import { MM, type Doc } from './fonts.ts';

/** Draws it with its white quiet zone into a square of `sideMm` at the point given. */
export function drawDataMatrix(
  doc: Doc,
  text: string,
  at: { xPt: number; yPt: number; sideMm: number; quietMm: number },
): void {
  const svg = bwip.toSVG({ bcid: 'datamatrix', text });
  const ownPt = Number(/viewBox="0 0 ([\d.]+) /.exec(svg)?.[1]);
  const paths = [...svg.matchAll(/<path d="([^"]+)"/g)];
  if (!(ownPt > 0) || paths.length === 0) throw new Error('The barcode library drew nothing');
  const { xPt, yPt, sideMm, quietMm } = at;
  doc.rect(xPt, yPt, sideMm * MM, sideMm * MM).fill('white');
  doc.save();
  doc.translate(xPt + quietMm * MM, yPt + quietMm * MM).scale(((sideMm - 2 * quietMm) * MM) / ownPt);
  for (const [, path] of paths) doc.path(path ?? '').fill('black', 'even-odd');
  doc.restore();
}
