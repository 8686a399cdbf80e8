/**
 * How far each operation reaches. What is not named here belongs to a site: whoever may act at that site alone gets it, at another
 * site or in another group nobody does.
 */
import type { Operation } from '../../../src/platform/http/contract.ts';

export type Reach =
  /** its things belong to a site: elsewhere it is not found */
  | { readonly kind: 'site' }
  /** answers everybody, with what belongs to their sites */
  | { readonly kind: 'list' }
  /** its things belong to the whole group */
  | { readonly kind: 'group'; readonly why: string }
  /** only for those who act for every site; how others are refused, at the site of the example and elsewhere */
  | {
      readonly kind: 'every-site';
      readonly why: string;
      readonly own: number;
      readonly other: number;
      /** for those who act at every site of another group, when it is neither found nor carried out: what it looks for is not there */
      readonly abroad?: number;
    }
  /** needs no token */
  | { readonly kind: 'public'; readonly why: string };

const catalogue = 'what the group buys and makes is the same at all of its sites';
const people = 'an administrator of one site could otherwise make one of all';

const plans = 'a recipe is cooked by one plan at all sites; only its limits are those of the site';
const programmes = 'what a machine is set to for a kind of food is the same at all kitchens of the group';

const saved = 'savings are those of the whole group';

const recalled = 'a case is for the whole group: it freezes food wherever it is';

const vocabulary = 'the words of the standard are the same for everybody';

const months = "a month is the whole group's";

const REACHES: Readonly<Record<string, Reach>> = {
  signIn: { kind: 'public', why: 'it is how one gets a token' },
  deviceSignIn: { kind: 'public', why: 'it is how a device gets a token' },
  createTabletSignIn: { kind: 'group', why: 'a tablet that nobody has added signs in nobody' },
  setOwnPin: { kind: 'group', why: "it is about whom the token stands for; the password of the example is nobody's" },
  getMe: { kind: 'group', why: 'it says what the token says' },
  createSupplier: { kind: 'group', why: catalogue },
  listSuppliers: { kind: 'group', why: catalogue },
  getSupplier: { kind: 'group', why: catalogue },
  changeSupplier: { kind: 'group', why: catalogue },
  createItem: { kind: 'group', why: catalogue },
  listItems: { kind: 'group', why: catalogue },
  getItem: { kind: 'group', why: catalogue },
  changeItem: { kind: 'group', why: catalogue },
  createRecipe: { kind: 'group', why: catalogue },
  listRecipes: { kind: 'group', why: catalogue },
  getRecipe: { kind: 'group', why: catalogue },
  changeRecipe: { kind: 'group', why: catalogue },
  createProcessPlan: { kind: 'group', why: plans },
  listProcessPlans: { kind: 'group', why: plans },
  getProcessPlan: { kind: 'group', why: plans },
  createPackingProgramme: { kind: 'group', why: programmes },
  listPackingProgrammes: { kind: 'group', why: programmes },
  getPackingProgramme: { kind: 'group', why: programmes },
  changePackingProgramme: { kind: 'group', why: programmes },
  getPackingProgrammeSuggestions: { kind: 'group', why: 'what the trade does is the same for everybody' },
  listPolicySets: { kind: 'group', why: 'the rules of each jurisdiction are the same for everybody' },
  createModelValidation: {
    kind: 'every-site',
    why: 'a model of an item holds at every site',
    own: 403,
    other: 403,
  },
  getRecallExposure: { kind: 'list' },
  exportLots: { kind: 'list' },
  exportReceipts: { kind: 'list' },
  listUncostedLots: { kind: 'site' },
  listReportLines: { kind: 'site' },
  projectShelfLife: { kind: 'group', why: 'it rests on nothing but what is sent' },
  tryLethality: { kind: 'group', why: 'it rests on nothing but what is sent' },
  tryCooling: { kind: 'group', why: 'it rests on nothing but what is sent' },
  listLethalityTargets: { kind: 'group', why: 'what was published is the same for everybody' },
  listCoolingRules: { kind: 'group', why: 'the rules of each jurisdiction are the same for everybody' },
  createSsccRange: { kind: 'every-site', why: 'numbers of crates are those of the whole group', own: 403, other: 403 },
  listSsccRanges: { kind: 'group', why: 'numbers of crates are those of the whole group' },
  createBoxType: { kind: 'group', why: catalogue },
  listBoxTypes: { kind: 'group', why: catalogue },
  createPerson: { kind: 'every-site', why: people, own: 403, other: 403 },
  listPeople: { kind: 'every-site', why: people, own: 403, other: 403 },
  getPerson: { kind: 'every-site', why: people, own: 403, other: 403 },
  changePerson: { kind: 'every-site', why: people, own: 403, other: 403 },
  setPersonPin: { kind: 'every-site', why: people, own: 403, other: 403 },
  setPersonBadge: { kind: 'every-site', why: people, own: 403, other: 403 },
  createBadgeRemoval: { kind: 'every-site', why: people, own: 403, other: 403 },
  createSite: { kind: 'every-site', why: 'a new site is in the scope of nobody yet', own: 403, other: 403 },
  createReadings: {
    kind: 'group',
    why: "each line is judged by itself; somebody else's sensor is a problem of its line",
  },
  createWebhook: { kind: 'group', why: 'it tells of the sites of whoever makes it' },
  createReadingImport: { kind: 'group', why: 'its lines are judged later, each by itself' },
  createHold: {
    kind: 'every-site',
    why: 'the hold of the example is for everywhere, which is also at other sites',
    own: 422,
    other: 404,
  },
  previewRecall: { kind: 'every-site', why: recalled, own: 422, other: 422, abroad: 422 },
  openRecall: { kind: 'every-site', why: recalled, own: 422, other: 422, abroad: 422 },
  // The other group has food that was made from its own: a drill there finds it.
  startRecallDrill: { kind: 'every-site', why: recalled, own: 422, other: 422, abroad: 201 },
  addRecallStarts: { kind: 'every-site', why: recalled, own: 422, other: 404 },
  makeRecallStatement: { kind: 'every-site', why: recalled, own: 422, other: 422 },
  recordRecallCheck: { kind: 'every-site', why: recalled, own: 422, other: 422 },
  closeRecall: { kind: 'every-site', why: recalled, own: 422, other: 422 },
  reopenRecall: { kind: 'every-site', why: recalled, own: 422, other: 422 },
  getMonthChecks: { kind: 'every-site', why: months, own: 403, other: 403 },
  createMonthClose: { kind: 'every-site', why: months, own: 403, other: 403, abroad: 409 },
  listMonthCloses: { kind: 'every-site', why: months, own: 403, other: 403 },
  getMonthClose: { kind: 'every-site', why: months, own: 403, other: 403 },
  getMonthCloseFile: { kind: 'every-site', why: months, own: 403, other: 403 },
  getRestatedMonth: { kind: 'every-site', why: months, own: 403, other: 403, abroad: 409 },
  createMonthReopening: { kind: 'every-site', why: months, own: 403, other: 403 },
  createReopeningConfirmation: { kind: 'every-site', why: months, own: 403, other: 403 },
  createHoldLift: { kind: 'every-site', why: 'the hold of the example is for everywhere', own: 404, other: 404 },
  listEpcisEventTypes: { kind: 'group', why: vocabulary },
  listEpcisEventsOfType: { kind: 'list' },
  listEpcisEventsOfEpc: { kind: 'list' },
  listEpcisEventsOfBizStep: { kind: 'list' },
  listEpcisEventsOfBizLocation: { kind: 'list' },
  listEpcisEventsOfReadPoint: { kind: 'list' },
  listEpcisEventsOfDisposition: { kind: 'list' },
  captureEpcis: { kind: 'group', why: 'what is shipped to another site is named as unused in the answer' },
  getEpcisCapture: { kind: 'every-site', why: 'it was sent by who acts at every site', own: 404, other: 404 },
  getSavings: { kind: 'every-site', why: saved, own: 422, other: 422, abroad: 422 },
  createSavingsBaseline: { kind: 'every-site', why: saved, own: 422, other: 422, abroad: 422 },
};

/** Answers everybody, if with nothing. A list below one thing is found or not found with it. */
export function isList(operation: Operation): boolean {
  return operation.id.startsWith('list') && operation.params === undefined;
}

export function reachOf(operation: Operation): Reach {
  return REACHES[operation.id] ?? { kind: isList(operation) ? 'list' : 'site' };
}

/** Operations that are named above or below; each must exist. */
export function namedOperations(): string[] {
  return [REACHES, HOMES, GIVEN_AWAY, LOOKED_FOR].flatMap((table) => Object.keys(table));
}

/** The site that the example happens at, by its name in the demo. */
const HOMES: Readonly<Record<string, string>> = {
  createDevice: 'site/w3',
  getDevice: 'site/w3',
  changeDevice: 'site/w3',
  createDeviceToken: 'site/w3',
  createPackFaultWithdrawal: 'site/w3',
  changeSite: 'site/w9',
  setLabelSettings: 'site/hot',
  createWasteReason: 'site/w3',
  createReceipt: 'site/w3',
  createBorrowing: 'site/w3',
  createScans: 'site/w3',
  createBoxCount: 'site/w3',
  createBoxMovement: 'site/w3',
  createScanInterpretation: 'site/w3',
  getReceivingList: 'site/w3',
  getReceivingPolicy: 'site/w3',
  setReceivingPolicy: 'site/w3',
  getMorningList: 'site/w3',
  exportStock: 'site/w3',
  printTemperatureSheet: 'site/w3',
  createRequirements: 'site/w3',
  listRecallNotices: 'site/w3',
  getRecallNotice: 'site/w3',
  acknowledgeRecallNotice: 'site/w3',
  answerRecall: 'site/w3',
  getRequirement: 'site/w3',
  getRequirementCoverage: 'site/w3',
  getScan: 'site/w3',
  createConversion: 'site/w3',
  createReversal: 'site/w3',
  getEntry: 'site/w3',
  getFact: 'site/w3',
  createUse: 'site/w3',
  createDiscard: 'site/w3',
  createReturn: 'site/w3',
  createStockCount: 'site/w3',
  createUnidentifiedPack: 'site/w3',
  getUnidentifiedPack: 'site/w3',
  createPackIdentification: 'site/w3',
  createPackDisposal: 'site/w3',
  listDerivedUses: 'site/hot',
  listLikelySwaps: 'site/w3',
  getFinding: 'site/hot',
  createFindingSettlement: 'site/hot',
  getSitePolicy: 'site/hot',
  setSitePolicy: 'site/w3',
  getLotShelfLife: 'site/hot',
  decideShelfLife: 'site/hot',
  getRelabel: 'site/w3',
  recordRelabel: 'site/w3',
  getHowMuchToMake: 'site/w3',
  createRunOutCost: 'site/w3',
  createPackFault: 'site/w3',
  getPackFault: 'site/w3',
};

export function homeOf(operation: Operation): string {
  return HOMES[operation.id] ?? 'site/ck';
}

const inHand = 'an observation names any lot of the group: food turns up where nobody sent it';

/** Ids of another site of the same group that an operation takes knowingly: by operation, the places in its example. */
const GIVEN_AWAY: Readonly<Record<string, Readonly<Record<string, string>>>> = {
  createDispatch: { 'body/toSiteId': 'food may be sent to every site of the group' },
  getPickList: { 'query/toSiteId': 'food may be sent to every site of the group, so what it needs may be picked for' },
  createReceipt: { 'body/lines/0/lotId': inHand },
  createRecordedMove: { 'body/lotId': inHand },
  createRecordedBatchInput: { 'body/lotId': inHand },
  createRecordedPackingRun: { 'body/fills/0/fromLotId': inHand },
  createRefusal: { 'body/lines/0/lotId': inHand },
  createBorrowing: { 'body/fromSiteId': 'the lender is not asked', 'body/lines/0/lotId': inHand },
  createBoxMovement: {
    'body/toSiteId': 'boxes go to and come from every site of the group',
    'body/fromSiteId': 'boxes go to and come from every site of the group',
  },
  createUse: { 'body/lotId': inHand },
  createLotInUse: { 'body/lotId': inHand },
  createPaperEntries: { 'body/lines/0/body/lotId': inHand },
  createDiscard: { 'body/lotId': inHand },
  createReturn: { 'body/lotId': inHand },
  createStockCount: { 'body/lines/0/lotId': inHand },
  createPackIdentification: { 'body/lotId': inHand },
  createPackFault: { 'body/lotId': inHand },
};

export function givenAway(operation: Operation, place: string): boolean {
  return GIVEN_AWAY[operation.id]?.[place] !== undefined;
}

/** Where an unknown id is answered by another code than 404, since it is looked for and not pointed at. */
const LOOKED_FOR: Readonly<Record<string, Readonly<Record<string, number>>>> = {
  // a report of a site that is not there would look like one of a site where nothing happened
  listReportLines: { 'query/siteId': 404 },
  addRecallStarts: { 'body/starts/0/lotId': 422 },
  // who is no second person is told so, and not whether there is such a person
  createLabelPrint: { 'body/sister/secondPersonId': 422 },
};

export function unknownStatus(operation: Operation, place: string): number {
  return LOOKED_FOR[operation.id]?.[place] ?? (isList(operation) ? 200 : 404);
}

/** Fields that name things of the whole group. */
export const GROUP_WIDE: ReadonlySet<string> = new Set([
  'itemId',
  'packItemId',
  'supplierId',
  'recipeId',
  'planId',
  'personId',
  'witnessId',
  'closeId',
  'reopeningId',
  'programmeId',
  'boxTypeId',
]);
