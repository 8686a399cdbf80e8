/** The whole record as parts of a page, in the order in which an inspector asks: is it safe, who says so, what shows it. */
import type { BatchRecord } from './contract.ts';
import { timelinePicture } from './timeline.ts';
import {
  assumedTable,
  checksTable,
  decisionsTable,
  deviationsTable,
  findingsTable,
  pointsTable,
} from './view-checks.ts';
import { inputsTable, lotsTable, otherHolds, peopleTable, runsTable, yieldFacts } from './view-made.ts';
import type { RecordView, Tone, ViewFacts, ViewTable } from './view-shapes.ts';
import { allergensText, countText, dateText, massText, nameText, spaced, timesOf, type Times } from './view-words.ts';

const STANDINGS: Readonly<Record<BatchRecord['standing'], readonly [word: string, tone: Tone]>> = {
  'nothing-made': ['Nothing made yet', 'warn'],
  'awaiting-release': ['Awaiting release', 'warn'],
  released: ['Released', 'good'],
  'partly-released': ['Released in part', 'warn'],
  rejected: ['Rejected', 'bad'],
  'for-rework': ['Rejected for rework', 'bad'],
};

/** @param charts pictures of series, in the order of the checks; `more`: how many are left out */
export function recordView(
  record: BatchRecord,
  charts: { readonly svgs: readonly string[]; readonly more: number },
): RecordView {
  const times = timesOf(record.timeZone, record.startedAt);
  const { word, tone } = standingWord(record);
  const only = <T>(part: T | null): T[] => (part === null ? [] : [part]);
  return {
    title: `Batch record ${record.code}`,
    code: record.code,
    dish: record.itemName,
    place: [record.groupName, record.siteName, record.siteAddress].filter((one) => one !== null).join(', '),
    standing: { tone, word, sentence: standingSentence(record, times) },
    parts: [
      headFacts(record, times),
      { id: 'timeline', heading: null, svgs: [timelinePicture(record)] },
      lotsTable(record, times),
      decisionsTable(record, times),
      ...only(pointsTable(record, times)),
      checksTable(record, times),
      ...only(assumedTable(record)),
      deviationsTable(record, times),
      inputsTable(record, times),
      runsTable(record, times),
      yieldFacts(record),
      ...only(findingsTable(record, times)),
      peopleTable(record),
      ...(charts.svgs.length === 0
        ? []
        : [
            {
              id: 'series',
              heading: 'Temperatures',
              svgs: charts.svgs,
              ...(charts.more > 0 && {
                note: `${countText(charts.more, 'more series', 'more series')} stand with their checks.`,
              }),
            },
          ]),
      REVIEW,
    ],
    cautions: record.cautions,
    foot: `${record.groupName}, batch ${record.code}: as recorded up to ${times.full(record.readAt)} (${record.timeZone}). It does not replace the food-safety plan.`,
    madeAtMs: Date.parse(record.readAt),
  };
}

/** Food that was released and is on hold now must not read as if it might leave: the word stands at the top of every page. */
function standingWord({ standing, lots }: BatchRecord): { readonly word: string; readonly tone: Tone } {
  const [word, tone] = STANDINGS[standing];
  return lots.some((lot) => otherHolds(lot).length > 0) ? { word: `${word}, on hold`, tone: 'bad' } : { word, tone };
}

const REVIEW: ViewTable = {
  id: 'review',
  heading: 'Seen',
  onPaper: true,
  none: '',
  columns: [
    { title: 'Date', share: 20 },
    { title: 'Name', share: 35 },
    { title: 'Signature', share: 45 },
  ],
  rows: [[null, null, null]],
};

function headFacts(record: BatchRecord, times: Times): ViewFacts {
  const loads = record.lots.filter(({ kind }) => kind === 'load');
  const packs = record.lots.filter(({ kind }) => kind === 'packs');
  const packCount = packs.reduce((sum, { quantity }) => sum + quantity, 0);
  const dates = [...new Set(packs.length > 0 ? packs.map(dateOf) : loads.map(dateOf))].sort();
  const allergens = [...new Set(record.lots.flatMap((lot) => lot.allergens))];
  const mayContain = [...new Set(record.lots.flatMap((lot) => lot.mayContain))].filter(
    (one) => !allergens.includes(one),
  );
  const made = [countText(loads.length, 'load'), ...(packCount > 0 ? [countText(packCount, 'pack')] : [])].join(', ');
  return {
    id: 'head',
    heading: null,
    facts: [
      [
        'Recipe',
        record.recipeName,
        `version ${record.recipeVersion}: ${record.steps.map((step) => step.replaceAll('-', ' ')).join(', ')}`,
      ],
      ['Started', times.full(record.startedAt), `by ${nameText(record.openedBy)}`],
      [
        'Completed',
        record.completedAt === null ? 'still open' : times.full(record.completedAt),
        record.killStep ? 'heated through (kill step)' : 'no kill step: as raw as what went in',
      ],
      ['Made', made, massText(record.yield.outputsG)],
      ['Use by', dates.length === 0 ? '–' : dates.map((date) => dateText(date === '' ? null : date)).join(' and ')],
      [
        'Allergens',
        allergensText(allergens.length > 0 ? allergens : record.declaredAllergens),
        mayContain.length > 0 ? `may contain ${allergensText(mayContain)}` : 'union over everything that went in',
      ],
    ],
  };
}

const dateOf = ({ useByDate }: BatchRecord['lots'][number]): string => useByDate ?? '';

function standingSentence(record: BatchRecord, times: Times): string {
  const standing = record.checks.filter(({ supersededByCheckId }) => supersededByCheckId === null);
  const failed = standing.filter(({ result }) => result === 'failed');
  const open = failed.filter(({ deviation }) => deviation === 'open').length;
  const checks =
    standing.length === 0
      ? 'No check is recorded'
      : failed.length === 0
        ? `${countText(standing.length, 'check')}, all passed`
        : `${countText(standing.length, 'check')}, ${failed.length} failed, ${open === 0 ? 'every deviation closed' : `${countText(open, 'deviation')} open`}`;
  const kinds = [...new Set(record.lots.flatMap(otherHolds))];
  const held = kinds.length === 0 ? '' : ` On hold now, in whole or in part: ${kinds.join(', ')}.`;
  const last = record.decisions.at(-1);
  if (last === undefined) return `${checks}. Nothing has been decided: it may not leave the kitchen.${held}`;
  const who = last.automatic ? 'by itself' : `by ${nameText(last.decidedBy)}`;
  return `${checks}. ${spaced(last.outcome)} ${who}, ${times.full(last.decidedAt)}.${held}`;
}
