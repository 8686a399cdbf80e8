/** The printed file of a case: what one would hand over. Pure. Sources of what it says stand in it. */
import { utc } from '../../../domain/time.ts';
import type { Cell, Column, Section, Sheet } from '../../../platform/pdf/sheet.ts';
import type { Dossier } from './dossier.ts';
import { mapDrawing } from './map-picture.ts';
import { amountsText, amountText } from './words.ts';

const DRILL = 'DRILL - AN EXERCISE, NOT A REAL RECALL';

const column = (title: string, share: number, align: 'left' | 'right' = 'left'): Column => ({ title, share, align });
const time = (atMs: number | null): string => (atMs === null ? '' : `${utc(atMs).slice(0, 16).replace('T', ' ')} UTC`);
const unsaid = 'not said yet';

function shareText(share: {
  readonly percent: number;
  readonly numerator: string;
  readonly denominator: string;
}): string {
  return `${share.percent.toFixed(1)} %`;
}

function summary(dossier: Dossier): Section {
  const { figures, checks } = dossier;
  const open = Number(figures.openG) === 0 ? 'nothing' : `${figures.openG} g in ${dossier.openCount} lines`;
  const rows: [string, Cell][] = [
    ['Share answered', { bold: `${shareText(figures.answeredShare)} of ${figures.toAccountForG} g to account for` }],
    [
      'Share accounted for',
      { bold: `${shareText(figures.accountedShare)}; looked for and not found: ${figures.notFoundG} g` },
    ],
    ['Still open', { bold: open }],
    ['Class', dossier.class ?? unsaid],
    ['Depth', dossier.depth ?? unsaid],
    ['Action', dossier.action ?? unsaid],
    ['Reason', [dossier.reason ?? unsaid, dossier.text].filter(Boolean).join('\n')],
    ['Leads the case', [dossier.leadName ?? unsaid, dossier.contact].filter(Boolean).join(', ')],
    ['Opened', `${time(dossier.openedAtMs)} by ${dossier.openedBy}; scope found and held within ${dossier.scopeMs} ms`],
    [
      'State',
      `${dossier.state}; ${dossier.lotCount === 1 ? '1 lot' : `${dossier.lotCount} lots`} in scope at revision ${dossier.revision}`,
    ],
    [
      'Effectiveness checks',
      `${dossier.checkLevel ?? 'no level said yet'}; needed ${checks.neededSites} sites, checked ${checks.checkedSites}, done as asked ${checks.effectiveSites}`,
    ],
    ['Business', dossier.group],
  ];
  return {
    heading: 'Summary',
    note:
      'Answered: explained by the records or typed by a site, "not found" included. Accounted for: the same without "not found". Both by mass, ' +
      'rounded down. What went into another lot in scope is counted there, once.',
    columns: [column('', 18), column('', 82)],
    rows: rows.map(([title, value]) => [{ bold: title }, value]),
  };
}

function starts(dossier: Dossier): Section {
  return {
    heading: 'What the case began with',
    columns: [
      column('Starting point', 50),
      column('Note', 26),
      column('Lots it names', 10, 'right'),
      column('Said at', 14),
    ],
    rows: dossier.starts.map((start) => [start.text, start.note ?? '', String(start.lotCount), time(start.addedAtMs)]),
  };
}

const QUANTITIES = [
  ['onHand', 'On hand'],
  ['inTransit', 'On the road'],
  ['served', 'Served'],
  ['wasted', 'Wasted'],
  ['returned', 'Returned'],
  ['consumed', 'Into other lots'],
  ['unexplained', 'Unexplained'],
] as const;

function totals(dossier: Dossier): Section {
  return {
    heading: 'Quantities by item',
    note: 'Per item: what was produced or received is the sum of the columns after it, exactly. Unexplained is what counts found missing; below zero, found over.',
    columns: [
      column('Item', 26),
      column('Lots', 6, 'right'),
      column('Produced', 11, 'right'),
      ...QUANTITIES.map(([, title]) => column(title, 9.5, 'right')),
    ],
    rows: dossier.totals.map((total) => [
      total.itemName,
      String(total.lotCount),
      amountText(total.produced, total.unit),
      ...QUANTITIES.map(([field]) => (total[field] === 0 ? '' : amountText(total[field], total.unit))),
    ]),
  };
}

const WORDS: Readonly<Record<string, string>> = {
  found: 'found',
  quarantined: 'quarantined',
  destroyed: 'destroyed',
  returned: 'returned',
  alreadyServed: 'already served',
  notFound: 'NOT FOUND',
};

const NO_LINES = { answered: 'answered', none: 'none yet', nothing: 'had nothing to answer for' } as const;

function typedText(typed: Dossier['sites'][number]['typed']): string {
  const said = Object.keys(WORDS).flatMap((outcome) => {
    const own = typed.filter((one) => one.outcome === outcome && one.quantity > 0);
    return own.length === 0 ? [] : [`${WORDS[outcome]}: ${amountsText(own)}`];
  });
  return said.join('\n');
}

function sites(dossier: Dossier): Section {
  const amounts = (site: Dossier['sites'][number], field: (typeof QUANTITIES)[number][0]) => {
    const own = site.quantities
      .filter((one) => one[field] !== 0)
      .map((one) => ({ quantity: one[field], unit: one.unit }));
    return own.length === 0 ? '' : amountsText(own);
  };
  return {
    heading: `Sites (${dossier.sites.length})`,
    note: 'What is on the road stands at the site that it is going to. Told and read: the newest notice.',
    columns: [
      column('Site', 25),
      column('Lots', 5, 'right'),
      column('On hand', 10, 'right'),
      column('On the road', 8, 'right'),
      column('Served', 10, 'right'),
      column('Told', 11),
      column('Read', 11),
      column('Answer', 16),
      column('Still open', 10, 'right'),
    ],
    rows: dossier.sites.map((site): Cell[] => {
      const open = site.open.filter((one) => one.quantity > 0);
      const said = typedText(site.typed);
      return [
        `${site.description}`,
        String(site.lotCount),
        amounts(site, 'onHand'),
        amounts(site, 'inTransit'),
        amounts(site, 'served'),
        time(site.noticedAtMs),
        site.noticedAtMs === null
          ? ''
          : site.acknowledgedAtMs === null
            ? { bold: 'not yet' }
            : time(site.acknowledgedAtMs),
        said === '' ? NO_LINES[site.answer] : said,
        open.length === 0 ? 'nothing' : { bold: amountsText(open) },
      ];
    }),
  };
}

function road(dossier: Dossier): Section {
  return {
    heading: `On the road (${dossier.road.length})`,
    none: 'Nothing in scope is on the road.',
    columns: [column('Dispatch', 30), column('To', 40), column('Quantity', 30)],
    rows: dossier.road.map((one) => [one.code, one.to, amountsText(one.text)]),
  };
}

function openLines(dossier: Dossier): Section {
  const more = dossier.openCount - dossier.open.length;
  return {
    heading: `Open lines (${dossier.openCount})`,
    note:
      more > 0
        ? `The first ${dossier.open.length}; ${more} more are in the account of the case.`
        : 'What a site has still to say something about.',
    none: 'Nothing is open.',
    columns: [column('Site', 30), column('Lot', 22), column('Item', 32), column('Open', 16, 'right')],
    rows: dossier.open.map((line) => [
      line.siteName,
      line.lotCode,
      line.itemName,
      { bold: amountText(line.quantity, line.unit) },
    ]),
  };
}

function timeline(dossier: Dossier): Section {
  return {
    heading: 'Timeline',
    note: dossier.timelineMore
      ? `The first ${dossier.timeline.length} events; the timeline of the case has all.`
      : 'Nothing in a case is edited: this is all that was said in it.',
    columns: [column('When', 14), column('What', 11), column('Where', 20), column('Who', 14), column('', 41)],
    rows: dossier.timeline.map((event) => [
      time(event.atMs),
      event.kind,
      event.siteName ?? '',
      event.who ?? '',
      event.text,
    ]),
  };
}

function lots(dossier: Dossier): Section {
  const more = dossier.lotCount - dossier.lots.length;
  return {
    heading: `Lots (${dossier.lotCount})`,
    note:
      more > 0
        ? `The first ${dossier.lots.length} by birth; all ${dossier.lotCount} are in the spreadsheet of this case.`
        : 'In the order of their birth.',
    columns: [
      column('Lot code', 15),
      column('Item', 18),
      column("From, supplier's code", 15),
      column('Produced', 8.5, 'right'),
      ...QUANTITIES.map(([, title]) => column(title, 8.5, 'right')),
    ],
    rows: dossier.lots.map((lot) => [
      lot.code,
      lot.itemName,
      [lot.supplierName ?? lot.siteName, lot.supplierLotCode].filter(Boolean).join(', '),
      amountText(lot.produced, lot.unit),
      ...QUANTITIES.map(([field]) => (lot.sums[field] === 0 ? '' : amountText(lot.sums[field], lot.unit))),
    ]),
  };
}

function cautions(dossier: Dossier): Section {
  const said = [
    'In scope is every lot that any of the food may have gone into, by membership and however little; nothing is left out because a share is small.',
    'Quantities are what people and devices recorded by the time of this print. Facts that come later make a new revision of the case.',
    'Times are in Coordinated Universal Time. Lots, events and key data elements (21 CFR 1.1340 to 1.1350, (EU) 931/2011 Art. 3) are in the spreadsheet of this case, with what is not on record.',
    'Classes, depth and checks: 21 CFR 7.3(m), 7.41, 7.42. Withdrawal and recall: Regulation (EC) No 178/2002 Art. 19.',
    'What is done with the food is for the quality lead and the authority to decide; this print decides nothing.',
    ...(dossier.drill
      ? ['This is a drill: its hold blocks nothing, and nothing was recorded in the books by its answers.']
      : []),
  ];
  return { heading: 'To be read with it', columns: [column('', 1)], rows: said.map((text) => [text]) };
}

export function dossierSheet(dossier: Dossier): Sheet {
  const { code, title, map } = dossier;
  return {
    ...(dossier.drill && { banner: DRILL }),
    title: `${dossier.drill ? 'Drill' : 'Recall'} ${code}: ${title}`,
    subtitle: `Printed ${time(dossier.madeAtMs)} by ${dossier.madeBy}`,
    code,
    landscape: true,
    madeAtMs: dossier.madeAtMs,
    foot: `${dossier.drill ? `${DRILL}. ` : ''}Case ${code}, as recorded by ${time(dossier.madeAtMs)}.`,
    sections: [
      summary(dossier),
      starts(dossier),
      mapDrawing(
        map,
        'Where it came from and where it went',
        'Lots together by item and kitchen; the thicker a line, the more lots. Dashed: into another lot of the same kind.',
      ),
      sites(dossier),
      totals(dossier),
      openLines(dossier),
      road(dossier),
      timeline(dossier),
      lots(dossier),
      cautions(dossier),
    ],
  };
}
