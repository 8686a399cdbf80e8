/** The record on A4, with its code to scan, page numbers, and a strip on every page that says what it is and how it stands. */
import { renderSheet, type Cell, type Drawing, type Section } from '../../../platform/pdf/sheet.ts';
import { svgDrawing } from '../../../platform/pdf/svg.ts';
import type { RecordView, Tone, ViewCell, ViewFacts, ViewPictures, ViewTable } from './view-shapes.ts';

const INKS: Readonly<Record<Tone, string>> = { good: '#1f6b3a', bad: '#8a1c12', warn: '#7a4b00', quiet: '#6b747c' };
const SOFT_INK = '#4b545c';
const TEXT_PT = 8.5;

function cellOf(cell: ViewCell): Cell {
  if (cell === null) return null;
  return {
    lines: cell.map(({ text, bold, small, struck, tone }) => ({
      text,
      ...(bold === true && { bold }),
      ...(small === true && { small }),
      ...(struck === true && { struck }),
      ...(tone === undefined ? small === true && { ink: SOFT_INK } : { ink: INKS[tone] }),
    })),
  };
}

const REVIEW_ROW_MM = 11;

function tableSection({ heading, note, columns, rows, none, onPaper }: ViewTable): Section {
  return {
    heading,
    ...(note !== undefined && { note }),
    none,
    columns,
    textPt: TEXT_PT,
    rows: rows.map((row) => row.map(cellOf)),
    ...(onPaper === true && { rowMm: REVIEW_ROW_MM }),
  };
}

const FACTS_IN_A_ROW = 3;

function factsSection({ heading, facts }: ViewFacts): Section {
  const rows: Cell[][] = [];
  for (let at = 0; at < facts.length; at += FACTS_IN_A_ROW) {
    const cells = facts.slice(at, at + FACTS_IN_A_ROW).map(([label, value, below]): Cell => ({
      lines: [
        { text: label, small: true, ink: SOFT_INK },
        { text: value, bold: true },
        ...(below === undefined || below === '' ? [] : [{ text: below, small: true, ink: SOFT_INK }]),
      ],
    }));
    rows.push([...cells, ...new Array<Cell>(FACTS_IN_A_ROW - cells.length).fill('')]);
  }
  return {
    heading: heading ?? '',
    textPt: 9.5,
    columns: Array.from({ length: FACTS_IN_A_ROW }, () => ({ title: '', share: 1 })),
    rows,
  };
}

/** Two of them fit on a page. */
const HALF_A_PAGE = 0.485;

/** Each as wide as the page: half as wide, their numbers could not be read. */
function drawings({ heading, svgs }: ViewPictures): Drawing[] {
  return svgs.map((svg, at) => ({
    ...svgDrawing([svg], at === 0 ? (heading ?? undefined) : undefined),
    mostShare: HALF_A_PAGE,
  }));
}

export async function recordPdf(view: RecordView): Promise<Buffer> {
  const { tone, word, sentence } = view.standing;
  const cautions: Section = {
    heading: 'What to mind',
    textPt: 8,
    columns: [{ title: '', share: 1 }],
    rows: view.cautions.map((caution) => [caution]),
  };
  return renderSheet({
    title: view.dish,
    subtitle: `${view.title}\n${view.place}`,
    code: view.code,
    banner: `${view.code} · ${word}`,
    bannerInk: INKS[tone],
    lead: { text: sentence, ink: INKS[tone] },
    sections: [
      ...view.parts.flatMap((part): (Section | Drawing)[] => {
        if ('svgs' in part) return drawings(part);
        return ['facts' in part ? factsSection(part) : tableSection(part)];
      }),
      cautions,
    ],
    foot: view.foot,
    madeAtMs: view.madeAtMs,
  });
}
