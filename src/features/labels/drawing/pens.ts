/** Pens that draw a sketch as SVG and as PNG. Text becomes outlines, so that it looks the same wherever it is opened. */
import { Resvg } from '@resvg/resvg-js';
import { faceOf, MM } from '../../../platform/pdf/fonts.ts';
import { bilevelPng } from './png.ts';
import { dotMm, type Dpi, type Mark, type Sketch } from './sketch.ts';

const figure = (mm: number): string => String(Number(mm.toFixed(5)));

/** Outlines of letters, each once, under an identifier made of its font and number. */
type Letters = Map<string, string>;

const SHARE = { left: 0, center: 0.5, right: 1 };

function drawWords(mark: Extract<Mark, { kind: 'words' }>, letters: Letters): string {
  const { text, xMm, yMm, widthMm, align, colour } = mark;
  let uses = '';
  text.lines.forEach((line, row) => {
    const lineXMm = xMm + (widthMm - line.widthPt / MM) * SHARE[align];
    for (const { text: word, font, xPt } of line.words) {
      const face = faceOf(font);
      const mmPerUnit = text.sizePt / face.unitsPerEm / MM;
      const baseMm = yMm + (row * text.lineHeightPt) / MM + face.ascent * mmPerUnit;
      const { glyphs, positions } = face.layout(word);
      let advance = 0;
      let placed = '';
      glyphs.forEach((glyph, at) => {
        const id = `${font}-${glyph.id}`;
        if (!letters.has(id)) letters.set(id, glyph.path.toSVG());
        const { xOffset = 0, yOffset = 0, xAdvance = 0 } = positions[at] ?? {};
        if (letters.get(id) !== '') placed += `<use href="#${id}" x="${advance + xOffset}" y="${yOffset}"/>`;
        advance += xAdvance;
      });
      const scale = figure(mmPerUnit * 1000);
      const at = `${figure(lineXMm + xPt / MM)} ${figure(baseMm)}`;
      // Units of the font grow upwards; those of the picture downwards.
      uses += `<g fill="${colour}" transform="translate(${at}) scale(${Number(scale) / 1000} -${Number(scale) / 1000})">${placed}</g>`;
    }
  });
  return uses;
}

function drawMark(mark: Mark, letters: Letters): string {
  if (mark.kind === 'words') return drawWords(mark, letters);
  if (mark.kind === 'symbol') {
    const { path, xMm, yMm, mmPerUnit } = mark;
    return `<path transform="translate(${xMm} ${yMm}) scale(${mmPerUnit})" fill="black" fill-rule="evenodd" shape-rendering="crispEdges" d="${path}"/>`;
  }
  const { xMm, yMm, widthMm, heightMm } = mark.area;
  const line = mark.lineMm > 0 ? ` stroke="black" stroke-width="${mark.lineMm}"` : '';
  const at = `x="${figure(xMm)}" y="${figure(yMm)}" width="${figure(widthMm)}" height="${figure(heightMm)}"`;
  return `<rect ${at} fill="${mark.fill ?? 'none'}"${line}/>`;
}

/** A page of true size; `viewMm` is what it shows, in mm. */
function drawSvg(sketch: Sketch, widthMm: number, heightMm: number): string {
  const letters: Letters = new Map();
  const body = sketch.marks.map((mark) => drawMark(mark, letters)).join('');
  const outlines = [...letters].map(([id, path]) => `<path id="${id}" d="${path}"/>`).join('');
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" width="${widthMm}mm" height="${heightMm}mm" viewBox="0 0 ${widthMm} ${heightMm}">` +
    `<defs>${outlines}</defs><rect width="${widthMm}" height="${heightMm}" fill="white"/>${body}</svg>`
  );
}

export function sketchSvg(sketch: Sketch): string {
  return drawSvg(sketch, sketch.widthMm, sketch.heightMm);
}

/** Whole dots, black or white, with the size to print it at written in it. The sketch must be made for the same dots. */
export async function sketchPng(sketch: Sketch, dpi: Dpi): Promise<Buffer> {
  const dot = dotMm(dpi);
  const widthDots = Math.round(sketch.widthMm / dot);
  const heightDots = Math.round(sketch.heightMm / dot);
  const svg = drawSvg(sketch, widthDots * dot, heightDots * dot);
  const image = new Resvg(svg, {
    fitTo: { mode: 'width', value: widthDots },
    font: { loadSystemFonts: false },
  }).render();
  return bilevelPng(image.pixels, image.width, image.height, 1000 / dot);
}
