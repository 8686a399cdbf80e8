/**
 * Prints of labels. Refusals: `not-found`, `rule-broken`, `serials-do-not-fit`, `label-reason-missing`, `second-person-needed`, `on-hold`,
 * `past-use-by`, `item-unsuitable`, `wrong-state`.
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { cratePrintRefusal, printRefusal, reasonOf, type PrintedBefore } from '../../../domain/labels/prints.ts';
import { rolesOf } from '../../../platform/auth/actor.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findPeople } from '../../identity/index.ts';
import { getVisibleLot, type LotRow } from '../../ledger/index.ts';
import { findRelabel } from '../../shelf-life/index.ts';
import { getRunLots } from '../commands.ts';
import { crateContents, crateLabels, cratesOfDispatch, crateToLabel } from '../crates/content.ts';
import { LAYOUTS, renderCrateSvg, renderLabelSvg } from '../drawing/index.ts';
import { drawn } from '../files.ts';
import { labelsOf, lotLabels, type LotLabels } from '../lot-label.ts';
import { requireFew, serialsToPrint } from '../serials.ts';
import { printSite, settingsAt } from '../where.ts';
import { answerOf } from './answers.ts';
import type { createLabelPrint } from './contract.ts';
import * as store from './store.ts';

type Printing = Context<typeof createLabelPrint>;

const broken = (detail: string, pointer: string): Refused =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

interface Subject {
  readonly lots: readonly LotRow[];
  /** where the food is, as far as the request says */
  readonly homeSiteId: string;
  /** the date in force there */
  readonly placeId: string | undefined;
}

async function subjectOf(context: Printing): Promise<Subject> {
  const { tx, scope, body } = context;
  const { kind, id } = body.about;
  if (kind === 'packing-run') {
    if (body.serials !== undefined) throw broken('Serials are those of one lot: print labels of the lot.', '#/serials');
    const lots = await getRunLots(context, id);
    return { lots, homeSiteId: lots[0]?.siteId ?? '', placeId: undefined };
  }
  if (kind === 'lot') {
    const lot = await getVisibleLot(tx, scope, id);
    return { lots: [lot], homeSiteId: lot.siteId, placeId: undefined };
  }
  const relabel = await findRelabel(tx, scope, id);
  if (!relabel) throw notFound('relabel');
  if (relabel.state === 'replaced' || relabel.state === 'gone') {
    const why = relabel.state === 'gone' ? 'Nothing of it stands there any more' : 'Another date is in force by now';
    throw new Refused('wrong-state', `${why}: read the list again.`);
  }
  const lot = await getVisibleLot(tx, scope, relabel.lotId);
  if (lot.serialised && body.serials === undefined) {
    const detail = `Say which packs of lot ${lot.code} stand there: their labels carry serials.`;
    throw new Refused('serials-do-not-fit', detail, { errors: [{ detail, pointer: '#/serials' }] });
  }
  return { lots: [lot], homeSiteId: relabel.siteId, placeId: relabel.placeId };
}

/** Somebody else, active, who may print at that site; all others are no second person, whatever the reason. */
async function requireSecondPerson({ tx, body }: Printing, siteId: string): Promise<void> {
  const secondId = body.sister?.secondPersonId;
  if (secondId === undefined) return;
  const person = (await findPeople(tx, [secondId])).get(secondId);
  const roles = rolesOf('labels.print');
  const may = person?.grants.some(
    (grant) => roles.includes(grant.role) && (grant.siteId === null || grant.siteId === siteId),
  );
  if (person?.active && may) return;
  const detail = 'The second person is somebody who may print labels at this site.';
  const errors = [{ detail, pointer: '#/sister/secondPersonId' }];
  throw new Refused('second-person-needed', detail, { errors });
}

async function printedBefore(tx: Tx, lots: readonly LotRow[]): Promise<Map<string, PrintedBefore>> {
  const rows = await store.listPrinted(
    tx,
    lots.map((lot) => lot.lotId),
  );
  return new Map(
    lots.map(({ lotId }) => {
      const own = rows.filter((row) => row.lotId === lotId);
      const serials = new Set(own.map((row) => row.serial).filter((serial) => serial !== ''));
      return [lotId, { serials, labels: own.reduce((sum, row) => sum + row.labels, 0) }];
    }),
  );
}

/** Every label that can differ in room from the others is drawn once: the longest serial of each lot. */
async function requireRoom(runs: readonly LotLabels[], layout: keyof typeof LAYOUTS): Promise<void> {
  for (const run of runs) {
    const longest = [...run.serials].sort((a, b) => (b?.length ?? 0) - (a?.length ?? 0)).slice(0, 1);
    for (const label of labelsOf([{ ...run, serials: longest }], 1)) {
      await drawn(() => Promise.resolve(renderLabelSvg(label, LAYOUTS[layout])));
    }
  }
}

export function print(context: Printing): Promise<Reply> {
  const { kind } = context.body.about;
  return kind === 'crate' || kind === 'dispatch' ? printCrates(context, kind) : printPacks(context);
}

async function printCrates(context: Printing, kind: 'crate' | 'dispatch'): Promise<Reply> {
  const { tx, scope, body, factId, nowMs, actor } = context;
  const which = await (kind === 'crate' ? crateToLabel : cratesOfDispatch)(tx, scope, body.about.id);
  const siteId = await printSite(tx, scope, body.siteId, which.homeSiteId, '#/siteId');
  const layout = requireCrateWish(body);
  const copies = body.copies ?? 1;
  const reason = reasonOf({ reason: body.reason ?? null, relabel: false });
  const codes = which.crates.map((crate) => crate.code);
  await store.lockCratePrinting(tx);
  const refused = cratePrintRefusal(codes, reason, await store.listPrintedCrates(tx, codes));
  if (refused) throw refused;
  const { language } = await settingsAt(tx, siteId, { language: body.language });
  const crates = await crateLabels(tx, which, language, nowMs);
  requireFew(crates.length * copies);
  for (const label of crateContents(crates, 1)) {
    await drawn(() => Promise.resolve(renderCrateSvg(label, LAYOUTS[layout])));
  }
  const head: store.PrintHead = {
    ...{
      printId: factId,
      siteId,
      aboutKind: kind,
      aboutId: body.about.id,
      reason,
      note: body.note ?? null,
      layout,
      copies,
    },
    labels: crates.length * copies,
    sisterSerial: null,
    secondPersonId: null,
    printedAt: new Date(nowMs),
    printedBy: actor.actorId,
  };
  // From here on only success.
  await store.insertPrint(tx, { ...head, content: { packs: [], crates }, packs: [] });
  await store.insertPrintedCrates(tx, factId, codes, copies);
  return {
    status: 201,
    body: await answerOf(tx, head),
    siteId,
    headers: { Location: `/v1/label-prints/${factId}` },
  };
}

/** What is said of packs says nothing of crates. */
function requireCrateWish(body: Printing['body']): 'roll-100x150' | 'a4-2x2' {
  for (const field of ['serials', 'symbol', 'sister'] as const) {
    if (body[field] !== undefined) throw broken('That is said of packs, not of crates.', `#/${field}`);
  }
  if (body.reason === 'relabel' || body.reason === 'quarantine') {
    throw broken('A crate has no use-by of its own: name the lot.', '#/reason');
  }
  const layout = body.layout ?? 'roll-100x150';
  if (layout === 'roll-100x150' || layout === 'a4-2x2') return layout;
  throw broken('The label of a crate is on roll-100x150 or a4-2x2.', '#/layout');
}

async function printPacks(context: Printing): Promise<Reply> {
  const { tx, scope, body, factId, nowMs, actor } = context;
  const { lots, homeSiteId, placeId } = await subjectOf(context);
  const siteId = await printSite(tx, scope, body.siteId, homeSiteId, '#/siteId');
  await store.lockPrinting(
    tx,
    lots.map((lot) => lot.lotId),
  );
  const before = await printedBefore(tx, lots);
  const settings = await settingsAt(tx, siteId, body);
  const copies = body.copies ?? 1;
  const relabel = body.about.kind === 'relabel';
  if (relabel && body.reason !== undefined && body.reason !== 'relabel') {
    throw broken('A relabel is its own reason; for another one name the lot.', '#/reason');
  }
  const reason = reasonOf({ reason: body.reason ?? null, relabel });
  if (body.sister && body.about.kind !== 'lot') throw broken('A sister pack is of one lot: name the lot.', '#/sister');
  const sister = body.sister ? { ...body.sister, secondPersonId: body.sister.secondPersonId ?? null } : null;
  const runs: LotLabels[] = [];
  for (const lot of lots) {
    const serials = serialsToPrint(body.serials, lot, '#/serials');
    const quarantine = reason === 'quarantine';
    const run = await lotLabels(tx, lot, { settings, serials, placeId, quarantine }, nowMs);
    const asked = { reason: body.reason ?? null, relabel, serials, copies, sister, actorId: actor.actorId };
    const printed = before.get(lot.lotId) ?? { serials: new Set<string>(), labels: 0 };
    const refused = printRefusal({ ...lot, lotCode: lot.code, pieces: lot.unit === 'piece' }, asked, printed);
    if (refused) throw refused;
    runs.push(run);
  }
  await requireSecondPerson(context, siteId);
  const labels = runs.reduce((sum, run) => sum + run.serials.length, 0) * copies;
  requireFew(labels);
  await requireRoom(runs, settings.layout);
  const head: store.PrintHead = {
    printId: factId,
    siteId,
    aboutKind: body.about.kind,
    aboutId: body.about.id,
    reason,
    note: body.note ?? null,
    layout: settings.layout,
    copies,
    labels,
    sisterSerial: sister?.serial ?? null,
    secondPersonId: sister?.secondPersonId ?? null,
    printedAt: new Date(nowMs),
    printedBy: actor.actorId,
  };
  const packs = runs.flatMap(({ lotId, serials, useByMs }) =>
    serials.map((serial) => ({ lotId, serial, labels: copies, useByMs })),
  );
  // From here on only success.
  await store.insertPrint(tx, { ...head, content: { packs: runs, crates: [] }, packs });
  return {
    status: 201,
    body: await answerOf(tx, head),
    siteId,
    headers: { Location: `/v1/label-prints/${factId}` },
  };
}
