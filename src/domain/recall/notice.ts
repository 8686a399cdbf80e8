/**
 * What a site is told, in plain words that a cook can act on. As 21 CFR 7.49(c)(1) asks: what it is, with size and lot codes, why, to
 * stop using and sending it at once, whom else to tell, what to do with it, how to answer; `URGENT` for class I and II. A drill says
 * so in its first line. Refusals: none.
 */
import table from '../../../shared/recalls.json' with { type: 'json' };

export interface NoticeLot {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  /** as it stands on the supplier's own packaging */
  readonly supplierLotCode: string | null;
  readonly unit: string;
  readonly useByDate: string | null;
  readonly onHand: number;
  readonly inTransit: number;
  readonly served: number;
  /** names of the places where it is booked */
  readonly places: readonly string[];
}

export interface NoticeFacts {
  readonly caseCode: string;
  readonly drill: boolean;
  readonly title: string;
  readonly siteName: string;
  readonly noticeNo: number;
  /** as the site's clock shows it */
  readonly sentAtText: string;
  readonly class?: string | undefined;
  readonly action?: string | undefined;
  readonly reason?: string | undefined;
  readonly text?: string | undefined;
  readonly leadName?: string | undefined;
  readonly contact?: string | undefined;
  readonly lots: readonly NoticeLot[];
  /** of all, the listed ones among them */
  readonly lotCount: number;
}

export interface NoticeWords {
  /** the first lines: drill, urgency, which case */
  readonly headline: readonly string[];
  readonly about: readonly string[];
  readonly steps: readonly string[];
  readonly lots: readonly { readonly what: string; readonly where: string }[];
  readonly foot: string;
}

function amount(quantity: number, unit: string): string {
  if (unit === 'piece') return quantity === 1 ? '1 piece' : `${quantity} pieces`;
  return `${quantity} ${unit}`;
}

function labelOf(list: readonly { code: string; label: string }[], code: string | undefined): string | null {
  return list.find((one) => one.code === code)?.label ?? null;
}

/** Where it is booked; nobody has looked yet. */
function whereOf(lot: NoticeLot): string {
  const at = lot.places.length > 0 ? ` (${lot.places.join(', ')})` : '';
  const parts = [
    ...(lot.onHand > 0 ? [`${amount(lot.onHand, lot.unit)} with you${at}`] : []),
    ...(lot.inTransit > 0 ? [`${amount(lot.inTransit, lot.unit)} on the way to you`] : []),
    ...(lot.served > 0 ? [`${amount(lot.served, lot.unit)} recorded as served`] : []),
  ];
  return parts.length > 0 ? parts.join('; ') : 'you had some of it; none should be left. Look all the same';
}

function headlineOf(facts: NoticeFacts): string[] {
  const urgent = facts.class === 'I' || facts.class === 'II';
  const kind =
    facts.action === 'withdrawal'
      ? 'FOOD WITHDRAWAL'
      : facts.action === 'correction'
        ? 'FOOD CORRECTION'
        : 'FOOD RECALL';
  const ofClass = facts.class === undefined ? '' : `, class ${facts.class}`;
  return [
    ...(facts.drill
      ? ['DRILL. This is an exercise. Look, count and answer, but throw nothing away and keep serving.']
      : []),
    `${urgent ? 'URGENT: ' : ''}${kind}${ofClass}`,
    `Case ${facts.caseCode}, notice ${facts.noticeNo} to ${facts.siteName}, ${facts.sentAtText}`,
  ];
}

function stepsOf(facts: NoticeFacts): string[] {
  const look =
    'Look everywhere: chillers, freezers, trolleys, the prep area, what is opened or heated. The lot code is on each label.';
  const answer = [
    'Say at once that you have read this: acknowledge the notice.',
    'Then answer for each lot: how many you found, set aside, destroyed, sent back, served already or could not find. Answer also if you have none.',
  ];
  if (facts.drill) {
    return [
      'Tell everybody on shift that this is a drill. In a real case you would now stop using, serving and sending what has the lot codes below.',
      look,
      'Do not move it and do not throw it away: only count it.',
      'If you passed any of it on, write down to whom.',
      ...answer,
    ];
  }
  const put =
    facts.action === 'correction'
      ? 'Keep what you find apart until it has been put right as said above.'
      : 'Put what you find into quarantine and mark it. Do not throw it away unless you are told to; then before a witness.';
  return [
    'Stop. Do not use, serve, send or give away anything with the lot codes below. Tell everybody on shift.',
    look,
    put,
    'If you passed any of it on, tell whoever has it to do the same, and tell us.',
    ...answer,
  ];
}

export function noticeWords(facts: NoticeFacts): NoticeWords {
  const reason = labelOf(table.reasons.list, facts.reason);
  const lead = [facts.leadName, facts.contact].filter((one) => one !== undefined).join(', ');
  const more = facts.lotCount - facts.lots.length;
  return {
    headline: headlineOf(facts),
    about: [
      facts.title,
      ...(reason === null ? [] : [`Why: ${reason}.`]),
      ...(facts.text === undefined ? [] : [facts.text.replaceAll(/\s+/g, ' ')]),
      ...(facts.noticeNo > 1 ? [`This takes the place of notice ${facts.noticeNo - 1}: it lists all lots.`] : []),
      lead === '' ? 'Questions: the quality lead.' : `Questions: ${lead}.`,
    ],
    steps: stepsOf(facts),
    lots: facts.lots.map((lot) => ({
      what: `${lot.itemName}, lot ${lot.lotCode}${lot.supplierLotCode === null ? '' : ` (supplier's code ${lot.supplierLotCode})`}${lot.useByDate === null ? '' : `, use by ${lot.useByDate}`}`,
      where: whereOf(lot),
    })),
    foot: more > 0 ? `${more} more lots are in the case's list for your site.` : 'These are all lots known so far.',
  };
}

/** The text in its four blocks: headline, about, steps, lots; for print. */
export function noticeBlocks(text: string): readonly (readonly string[])[] {
  return text.split('\n\n').map((block) => block.split('\n').filter((line) => line !== ''));
}

export function noticeText(words: NoticeWords): string {
  return [
    ...words.headline,
    '',
    ...words.about,
    '',
    ...words.steps.map((step, at) => `${at + 1}. ${step}`),
    '',
    ...words.lots.map((lot) => `- ${lot.what}: ${lot.where}`),
    words.foot,
    '',
  ].join('\n');
}
