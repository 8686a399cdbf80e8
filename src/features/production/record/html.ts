/**
 * The record as one page that stands by itself: no script, nothing fetched, so that it works from a file, in a mail and on paper. Every
 * text is escaped; the same record gives the same page.
 */
import { escaped } from '../../../platform/html.ts';
import { STYLE } from './style.ts';
import type { Line, RecordView, ViewCell, ViewColumn, ViewFacts, ViewPictures, ViewTable } from './view-shapes.ts';

function lineHtml({ text, bold, small, struck, tone, href }: Line): string {
  const classes = [bold && 'b', small && 's', struck && 'x', tone].filter(Boolean).join(' ');
  const inside =
    href === undefined ? escaped(text) : `<a href="${escaped(href)}" rel="noreferrer">${escaped(text)}</a>`;
  const words = struck === true ? `<del>${inside}</del>` : inside;
  return `<span${classes === '' ? '' : ` class="${classes}"`}>${words}</span>`;
}

function cellHtml(cell: ViewCell, { align }: ViewColumn, first: boolean): string {
  const side = align === 'right' ? ' class="n"' : '';
  const lines = (cell ?? []).map(lineHtml).join('');
  return first ? `<th scope="row"${side}>${lines}</th>` : `<td${side}>${lines}</td>`;
}

function tableHtml({ id, heading, note, columns, rows, none }: ViewTable): string {
  const top = `<section id="${id}"><h2>${escaped(heading)}</h2>`;
  if (rows.length === 0) return `${top}<p class="nothing">${escaped(none)}</p></section>`;
  const whole = columns.reduce((sum, { share }) => sum + share, 0);
  const widths = columns.map(({ share }) => `<col style="width:${((100 * share) / whole).toFixed(2)}%">`).join('');
  const heads = columns.map(
    ({ title, align }) => `<th scope="col"${align === 'right' ? ' class="n"' : ''}>${escaped(title)}</th>`,
  );
  const body = rows.map((row) => {
    const cells = columns.map((column, at) => cellHtml(row[at] ?? [], column, at === 0));
    return `<tr>${cells.join('')}</tr>`;
  });
  return (
    `${top}${note === undefined ? '' : `<p class="note">${escaped(note)}</p>`}` +
    `<div class="scroll" tabindex="0" role="region" aria-label="${escaped(heading)}"><table><colgroup>${widths}</colgroup>` +
    `${columns.every(({ title }) => title === '') ? '' : `<thead><tr>${heads.join('')}</tr></thead>`}<tbody>${body.join('\n')}</tbody></table></div></section>`
  );
}

function picturesHtml({ id, heading, note, svgs }: ViewPictures): string {
  const figures = svgs.map((svg) => `<figure>${svg}</figure>`).join('\n');
  const said = note === undefined ? '' : `<p class="note">${escaped(note)}</p>`;
  const top = heading === null ? '' : `<h2>${escaped(heading)}</h2>`;
  return `<section id="${id}">${top}${said}${figures}</section>`;
}

const FOUR_FROM = 7;

function factsHtml({ id, heading, facts }: ViewFacts): string {
  const each = facts.map(([label, value, below]) => {
    const small = below === undefined || below === '' ? '' : `<small>${escaped(below)}</small>`;
    return `<div><dt>${escaped(label)}</dt><dd>${escaped(value)}${small}</dd></div>`;
  });
  const list = `<dl${facts.length >= FOUR_FROM ? ' class="four"' : ''}>${each.join('')}</dl>`;
  return heading === null ? list : `<section id="${id}"><h2>${escaped(heading)}</h2>${list}</section>`;
}

export function recordHtml(view: RecordView): string {
  const parts = view.parts.filter((part) => !('onPaper' in part));
  const links = parts.flatMap(({ id, heading }) =>
    heading === null ? [] : [`<li><a href="#${id}">${escaped(heading)}</a></li>`],
  );
  const bodies = parts.map((part) => {
    if ('svgs' in part) return picturesHtml(part);
    return 'facts' in part ? factsHtml(part) : tableHtml(part);
  });
  const [first = '', ...rest] = bodies;
  const { tone, word, sentence } = view.standing;
  const cautions = view.cautions.map((caution) => `<li>${escaped(caution)}</li>`).join('');
  return (
    '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">' +
    `<title>${escaped(`${view.title}: ${view.dish}`)}</title><style>${STYLE}</style></head><body><main>\n` +
    `<header><p class="kicker">${escaped(view.place)}</p><h1>${escaped(view.dish)}</h1><p class="kicker">${escaped(view.title)}</p></header>` +
    `<p class="standing ${tone}"><strong class="${tone}">${escaped(word)}</strong><span>${escaped(sentence)}</span></p>\n` +
    `${first}\n<nav aria-label="On this page"><ul>${links.join('')}</ul></nav>\n${rest.join('\n')}\n` +
    `<section id="cautions" class="cautions"><h2>What to mind</h2><ul>${cautions}</ul></section>\n</main>` +
    `<footer>${escaped(view.foot)}</footer></body></html>\n`
  );
}
