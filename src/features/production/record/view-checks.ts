/** Parts of the record about checks and decisions: what was demanded, what was shown, what was done about it, who let it go. */
import { kindWords, perWords, stageWords } from '../../../domain/process-checks/words.ts';
import type { BatchRecord } from './contract.ts';
import { bold, plain, type Line, type Tone, type ViewCell, type ViewTable } from './view-shapes.ts';
import { countText, nameText, spaced, type Times } from './view-words.ts';
import { cut, cutLines } from './view-made.ts';

type Check = BatchRecord['checks'][number];

const stands = ({ supersededByCheckId }: Check): boolean => supersededByCheckId === null;

const RESULTS: Readonly<Record<Check['result'], readonly [string, Tone]>> = {
  passed: ['✓ Passed', 'good'],
  failed: ['✗ Failed', 'bad'],
};

/** What release wants, point by point, and whether it was shown. */
export function pointsTable(record: BatchRecord, times: Times): ViewTable | null {
  const { plan } = record;
  if (plan === null) return null;
  const how =
    plan.release === 'automatic' ? 'It releases by itself when all of them have passed' : 'A person releases it';
  return {
    id: 'points',
    heading: 'What the plan demands',
    note: `Process plan, version ${plan.version}, as it was when the batch was opened. ${how}${plan.twoPeople ? ', who had no hand in making it' : ''}.`,
    none: 'The plan has no control points.',
    columns: [
      { title: 'Control point', share: 28 },
      { title: 'Limit', share: 24 },
      { title: 'Where the limit comes from', share: 38 },
      { title: 'Shown', share: 22 },
    ],
    rows: plan.points.map((point): ViewCell[] => [
      bold(
        point.label,
        [stageWords(point.stage), perWords(point.per), point.critical ? 'critical' : null].filter(Boolean).join(', '),
        point.requiredFor === null ? 'wanted, holds nothing up' : `before ${point.requiredFor}`,
      ),
      plain(point.limit),
      [
        { text: point.source, small: true },
        ...(point.confirmed || point.basis !== 'from-memory'
          ? []
          : [{ text: 'not confirmed by a person', small: true, tone: 'warn' as const }]),
      ],
      shownCell(record.checks, point, times),
    ]),
  };
}

function shownCell(
  checks: readonly Check[],
  { code, per, requiredFor, shown }: NonNullable<BatchRecord['plan']>['points'][number],
  times: Times,
): ViewCell {
  const last = checks.filter((check) => check.controlPoint === code && stands(check)).at(-1);
  const of = (count: number) =>
    countText(
      count,
      per === 'packing-run' ? 'lot of packs' : 'load',
      per === 'packing-run' ? 'lots of packs' : 'loads',
    );
  const lines: readonly (readonly [count: number, text: string, tone: Tone])[] = [
    [shown.failed, '✗ failed', 'bad'],
    [shown.missing, 'not shown', requiredFor === null ? 'quiet' : 'warn'],
    [shown.deviationOpen, 'passed since, deviation open', 'warn'],
    [shown.passed, '✓ passed', 'good'],
  ];
  const said = lines.filter(([count]) => count > 0);
  return [
    ...said.map(([count, text, tone]): Line => ({ text: `${text}: ${of(count)}`, bold: true, tone })),
    ...(said.length === 0 ? [{ text: 'nothing made yet', tone: 'quiet' as const }] : []),
    ...(last === undefined ? [] : [{ text: `last ${times.time(last.occurredAt)}`, small: true }]),
  ];
}

/** What was assumed, of checks that passed or of several, is said once, under a letter; why one failed stands with it. */
function assumedOf(checks: readonly Check[]): ReadonlyMap<string, string> {
  const counts = new Map<string, number>();
  for (const check of checks.filter(stands)) {
    for (const reason of check.reasons) {
      counts.set(reason, (counts.get(reason) ?? 0) + (check.result === 'passed' ? 2 : 1));
    }
  }
  const shared = [...counts].filter(([, count]) => count > 1).slice(0, LETTERS.length);
  return new Map(shared.map(([reason], at) => [reason, LETTERS.charAt(at)]));
}

const LETTERS = 'abcdefghijklmnopqrstuvwxyz';

export function assumedTable(record: BatchRecord): ViewTable | null {
  const shared = assumedOf(record.checks);
  if (shared.size === 0) return null;
  return {
    id: 'assumed',
    heading: 'What was assumed',
    none: '',
    columns: [
      { title: '', share: 4 },
      { title: '', share: 96 },
    ],
    rows: [...shared].map(([reason, letter]): ViewCell[] => [bold(letter), [{ text: reason, small: true }]]),
  };
}

export function checksTable(record: BatchRecord, times: Times): ViewTable {
  const shared = assumedOf(record.checks);
  const { shown, note } = cut(record.checks);
  const corrected = record.checks.some((check) => !stands(check));
  const says = corrected ? 'Struck: corrected later; the record that stands in its place follows.' : null;
  const both = [says, note].filter((one) => one !== null).join(' ');
  return {
    id: 'checks',
    heading: 'Checks',
    ...(both !== '' && { note: both }),
    none: 'No check was recorded.',
    columns: [
      { title: 'Time', share: 11 },
      { title: 'Check', share: 30 },
      { title: 'Limit', share: 20 },
      { title: 'Measured', share: 34 },
      { title: 'Result', share: 14 },
      { title: 'By, with', share: 20 },
    ],
    rows: shown.map((check): ViewCell[] => checkRow(check, times, shared)),
  };
}

function checkRow(check: Check, times: Times, shared: ReadonlyMap<string, string>): ViewCell[] {
  const letters = check.reasons.flatMap((reason) => shared.get(reason) ?? []);
  const struck = stands(check) ? {} : ({ struck: true, tone: 'quiet' } as const);
  const [text, tone] = RESULTS[check.result];
  const tools = [check.instrument, check.machine].filter((one) => one !== null).join(', ');
  return [
    [{ text: times.time(check.occurredAt), ...struck }],
    [
      { text: check.label, bold: true, ...struck },
      { text: `${stageWords(check.stage)}, ${kindWords(check.kind)}`, small: true },
      ...(check.about === '' ? [] : [{ text: check.about, small: true }]),
      ...(check.correctionReason === null
        ? []
        : [{ text: `corrects an earlier record: ${check.correctionReason}`, small: true, tone: 'warn' as const }]),
      ...(check.note === null ? [] : [{ text: check.note, small: true }]),
      ...(check.documentHref === null ? [] : [{ text: check.documentHref, small: true, href: check.documentHref }]),
    ],
    [{ text: check.limit, ...struck }],
    [
      { text: check.measured, ...struck },
      ...(stands(check)
        ? check.reasons.filter((reason) => !shared.has(reason)).map((reason): Line => ({ text: reason, small: true }))
        : []),
      ...(stands(check) && letters.length > 0
        ? [{ text: `assumed: ${letters.join(', ')} below`, small: true, tone: 'quiet' as const }]
        : []),
    ],
    stands(check)
      ? [{ text, bold: true, tone }]
      : [
          { text: spaced(check.result), struck: true, tone: 'quiet' },
          { text: 'corrected', small: true },
        ],
    [
      { text: nameText(check.doneBy), ...(stands(check) ? {} : { tone: 'quiet' as const }) },
      ...(tools === '' ? [] : [{ text: tools, small: true }]),
      ...(check.recordedBy === check.doneBy
        ? []
        : [{ text: `recorded by ${nameText(check.recordedBy)}`, small: true }]),
    ],
  ];
}

/** Failed checks that stand, and what was done. */
export function deviationsTable(record: BatchRecord, times: Times): ViewTable {
  const failed = record.checks.filter((check) => stands(check) && check.result === 'failed');
  return {
    id: 'deviations',
    heading: 'Deviations and what was done',
    none: 'No check that stands has failed.',
    columns: [
      { title: 'Time', share: 12 },
      { title: 'What failed', share: 40 },
      { title: 'What was done', share: 50 },
      { title: 'State', share: 14 },
    ],
    rows: failed.map((check): ViewCell[] => [
      plain(times.time(check.occurredAt)),
      bold(check.label, check.about, ...check.reasons.slice(0, 1)),
      check.correctiveActions.length === 0
        ? [{ text: 'Nothing is recorded.', tone: 'warn' }]
        : check.correctiveActions.flatMap(({ action, by, occurredAt }): Line[] => [
            { text: action },
            { text: `${nameText(by)}, ${times.time(occurredAt)}`, small: true },
          ]),
      [
        check.deviation === 'open'
          ? { text: 'Open', bold: true, tone: 'bad' }
          : { text: 'Closed', bold: true, tone: 'good' },
      ],
    ]),
  };
}

export function decisionsTable(record: BatchRecord, times: Times): ViewTable {
  const labels = new Map(record.plan?.points.map(({ code, label }) => [code, label]));
  return {
    id: 'decisions',
    heading: 'Release',
    none: 'Nothing has been decided: what was made may not leave the kitchen.',
    columns: [
      { title: 'Time', share: 17 },
      { title: 'Decision', share: 24 },
      { title: 'Lots', share: 34 },
      { title: 'By', share: 22 },
      { title: 'Why', share: 40 },
    ],
    rows: record.decisions.map((decision): ViewCell[] => {
      const [text, tone] = decisionWords(decision);
      return [
        plain(times.time(decision.decidedAt)),
        [{ text, bold: true, tone }],
        lotsCell(decision.lotCodes, record),
        decision.automatic
          ? bold('By itself', `completed by ${nameText(decision.decidedBy)}`)
          : bold(nameText(decision.decidedBy), decision.asDeputy ? 'as a deputy' : null),
        [
          ...(decision.reason === null ? [] : [{ text: decision.reason }]),
          ...decision.accepted.map(({ controlPoint, reason }): Line => ({
            text: `accepted without a pass: ${labels.get(controlPoint) ?? controlPoint}. ${reason}`,
            tone: 'warn',
          })),
          ...(decision.automatic ? [{ text: 'Every check that release wants had passed.', small: true }] : []),
        ],
      ];
    }),
  };
}

const MOST_NAMED = 6;

function lotsCell(lotCodes: readonly string[], { lots }: BatchRecord): ViewCell {
  if (lotCodes.length <= MOST_NAMED) return plain(lotCodes.join(', '));
  const own = lots.filter(({ lotCode }) => lotCodes.includes(lotCode));
  const loads = own.filter(({ kind }) => kind === 'load').length;
  const counts = [
    ...(loads > 0 ? [countText(loads, 'load')] : []),
    ...(own.length > loads ? [countText(own.length - loads, 'lot of packs', 'lots of packs')] : []),
  ].join(', ');
  if (own.length === lots.length)
    return [
      { text: 'All', bold: true },
      { text: counts, small: true },
    ];
  return [{ text: counts }, ...cutLines(lotCodes.map((text): Line => ({ text, small: true })))];
}

function decisionWords({ outcome, disposition }: BatchRecord['decisions'][number]): readonly [string, Tone] {
  if (outcome === 'released') return ['Released', 'good'];
  return disposition === 'rework' ? ['Rejected, for rework', 'bad'] : ['Rejected', 'bad'];
}

export function findingsTable(record: BatchRecord, times: Times): ViewTable | null {
  if (record.findings.length === 0) return null;
  return {
    id: 'findings',
    heading: 'Findings at the kitchen',
    note: 'What showed up that the rules do not allow, besides checks.',
    none: 'None.',
    columns: [
      { title: 'Time', share: 16 },
      { title: 'What', share: 40 },
      { title: 'Lot', share: 28 },
      { title: 'State', share: 40 },
    ],
    rows: record.findings.map((finding): ViewCell[] => [
      plain(times.time(finding.occurredAt)),
      bold(finding.label),
      plain(finding.lotCode ?? ''),
      finding.settledAt === null
        ? [{ text: 'Open', bold: true, tone: 'warn' }]
        : bold(
            `Settled ${times.time(finding.settledAt)}`,
            [nameText(finding.settledBy), finding.note].filter(Boolean).join(': '),
          ),
    ]),
  };
}
