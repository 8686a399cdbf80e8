/** The central kitchen's part of the demo: goods in, and batches from opening to release. */
import type { Satellite } from './catalogue.ts';
import { as, type Answer } from './door.ts';
import { DISHES, STANDING, unitOf, type Dish } from './food.ts';
import { checkBatch, type Checked } from './process-batch-checks.ts';
import { seeLabels } from './process-declarations.ts';
import { programmeId, rejectsOf } from './process-packing.ts';
import { ck, clock, id, loadFor, pick, pickFrom, type Story } from './story.ts';

export type GoodsLine = readonly [
  lotName: string,
  item: string,
  quantity: number,
  supplierLotCode: string,
  /** days from delivery; null: none on the case */
  useByDays: number | null,
  priceMinor: number,
];

export interface Cooking {
  /** batch/<name>, lot/<name>-load-1, lot/<name>-packs-1 */
  readonly name: string;
  readonly dish: Dish;
  readonly day: number;
  readonly start: string;
  /** packs of each load; one packing run, with a changeover between loads */
  readonly packs: readonly number[];
  /** grams of the first load that are not packed */
  readonly extraG?: number;
  /** lots that are taken although others are older */
  readonly from?: Readonly<Record<string, string>>;
  readonly rework?: { readonly lotName: string; readonly quantityG: number };
  readonly packLotCode?: string;
  /** by the process plan of the dish */
  readonly checked?: Checked;
  readonly stopAfter?: 'outputs' | 'completion';
  readonly loadName?: string;
  /** site, packs, day; in the order of the serials */
  readonly deliver: readonly (readonly [Satellite, number, number])[];
}

const COLD_ITEMS = /^(beef|chicken|carrots|leeks|celery|garlic|parsley|milk|cream|butter|yoghurt|dressing)/;
export const placeOf = (item: string): string =>
  item === 'peas' ? 'place/ck-freezer' : COLD_ITEMS.test(item) ? 'place/ck-chiller' : 'place/ck-dry';

const kitchen = as('kitchen', 'site/ck');
const chiller = (): string => id('place/ck-chiller');
const TRIM_G = 300;
/** of it, what nobody eats */
const SKINS_G = 210;

export function receiveGoods(
  story: Story,
  day: number,
  supplier: string,
  name: string,
  lines: readonly GoodsLine[],
): void {
  story.happens(day, '06:30', async (occurredAt) => {
    await story.door.post(kitchen, '/v1/goods-receipts', name, {
      siteId: ck(),
      supplierId: id(`supplier/${supplier}`),
      documentNumber: `DN-${story.calendar.short(day)}-${supplier.slice(0, 3).toUpperCase()}`,
      occurredAt,
      lines: lines.map(([lotName, item, quantity, supplierLotCode, useByDays, priceMinor], at) => ({
        lotId: id(`lot/${lotName}`),
        itemId: id(`item/${item}`),
        placeId: id(placeOf(item)),
        quantity,
        unit: unitOf(item),
        supplierLotCode,
        ...(useByDays !== null && { useByDate: story.calendar.date(day + useByDays) }),
        ...(placeOf(item) === 'place/ck-chiller' && { temperatureC: 2 + ((day + at) % 5) * 0.4 }),
        ...(placeOf(item) === 'place/ck-freezer' && { temperatureC: -19.5 }),
        priceMinor,
      })),
    });
    for (const [lotName, item, quantity] of lines) {
      story.stores.set(item, [...(story.stores.get(item) ?? []), { lotName: `lot/${lotName}`, left: quantity }]);
    }
  });
}

export function cook(story: Story, plan: Cooking): void {
  const { door } = story;
  const { name, dish, day, start } = plan;
  const facts = DISHES[dish];
  const batch = `/v1/batches/${id(`batch/${name}`)}`;
  const at = (minutes: number) => clock(start, minutes);
  const loadNames = plan.packs.map((_, load) => plan.loadName ?? `lot/${name}-load-${load + 1}`);
  const loadsG = plan.packs.map((packs, load) => packs * facts.packG + (load === 0 ? (plan.extraG ?? 0) : 0));

  story.happens(day, start, (startedAt) =>
    door.post(kitchen, '/v1/batches', `batch/${name}`, { siteId: ck(), recipeId: id(`recipe/${dish}`), startedAt }),
  );
  for (const [no, [item, quantity]] of Object.entries(facts.inputs).entries()) {
    story.happens(day, at(5 + 3 * no), async (occurredAt) => {
      for (const part of ingredientsOf(story, plan, item, quantity)) {
        const fact = `batch-input/${name}-${item}${part.lotName ? `-${part.lotName}` : ''}`;
        await door.post(kitchen, `${batch}/inputs`, fact, {
          ...(part.lotName ? { lotId: id(part.lotName), placeId: id(placeOf(item)) } : { itemId: id(`item/${item}`) }),
          quantity: part.quantity,
          unit: unitOf(item),
          occurredAt,
        });
      }
    });
  }
  const { rework } = plan;
  if (rework) {
    story.happens(day, at(40), (occurredAt) =>
      door.post(kitchen, `${batch}/inputs`, `batch-input/${name}-rework`, {
        lotId: id(rework.lotName),
        placeId: chiller(),
        quantity: rework.quantityG,
        unit: 'g',
        occurredAt,
      }),
    );
  }
  story.happens(day, at(180), (occurredAt) =>
    door.post(kitchen, `${batch}/outputs`, `batch-outputs/${name}`, {
      occurredAt,
      loads: loadsG.map((quantity, load) => ({
        lotId: id(loadNames[load] ?? ''),
        placeId: chiller(),
        quantity,
        unit: 'g',
        cookEndedAt: story.calendar.at(day, at(140 + 10 * load)),
      })),
    }),
  );
  const { checked } = plan;
  if (checked) checkBatch(story, { name, day, start, loads: loadNames, checked });
  if (plan.stopAfter === 'outputs') return;
  packAll(story, plan, loadNames, batch);
  story.happens(day, at(270), (completedAt) =>
    door.post(kitchen, `${batch}/completion`, `batch-completion/${name}`, {
      completedAt,
      losses: lossesOf(plan, loadsG),
    }),
  );
  if (plan.stopAfter === 'completion' || checked?.byItself) return;
  story.happens(day, at(300), () =>
    door.post(as('quality'), `${batch}/release`, `release/${name}`, {
      ...(checked?.accept && { accept: checked.accept }),
      note: 'Core temperature, chilling time and seals as they should be',
    }),
  );
  if (rework) {
    const packNames = plan.packs.map((_, load) => `lot/${name}-packs-${load + 1}`);
    story.happens(day, at(305), () => seeLabels(story, [...loadNames, ...packNames]));
  }
}

function packAll(story: Story, plan: Cooking, loadNames: readonly string[], batch: string): void {
  const { name, dish, day, start } = plan;
  const facts = DISHES[dish];
  story.happens(day, clock(start, 250), async (finishedAt) => {
    const began = (load: number) => story.calendar.at(day, clock(start, 210 + 20 * load));
    const answer = await story.door.post(kitchen, `${batch}/packing-runs`, `packing-run/${name}`, {
      equipmentId: id(facts.packG > 500 ? 'equipment/packer-2' : 'equipment/packer-1'),
      programmeId: programmeId(facts.programme),
      packerId: id('person/packer'),
      startedAt: began(0),
      finishedAt,
      ...rejectsOf(name, (day * 7) % 4),
      sealTests: [{ tested: 2, failed: 0 }],
      ...(!plan.checked?.without?.includes('core') && {
        coreTemperatureC: 2 + (day % 8) / 10,
        instrumentId: id('equipment/probe-1'),
      }),
      fills: plan.packs.map((packs, load) => ({
        fromLotId: id(loadNames[load] ?? ''),
        fromPlaceId: chiller(),
        usedQuantity: packs * facts.packG,
        usedUnit: 'g',
        packItemId: id(`item/${dish}-pack`),
        packs,
        packLotId: id(`lot/${name}-packs-${load + 1}`),
        ...(plan.packLotCode !== undefined && { packLotCode: plan.packLotCode }),
        toPlaceId: chiller(),
        ...(load > 0 && { changedOverAt: began(load) }),
      })),
    });
    handOut(story, plan, answer);
  });
}

/** Which packs go where: serials in order, one lot after the other. */
function handOut(story: Story, plan: Cooking, answer: Answer): void {
  const waiting = plan.packs.flatMap((count, load) => {
    const lotId = id(`lot/${plan.name}-packs-${load + 1}`);
    const code = answer.lots?.find((lot) => lot.lotId === lotId)?.lotCode;
    if (code === undefined) throw new Error(`The packs of ${plan.name} have no code.`);
    return Array.from({ length: count }, (_, at) => ({ lotId, code, serial: String(at + 1) }));
  });
  for (const [site, count, day] of plan.deliver) {
    const load = loadFor(story, day, site);
    for (const { lotId, code, serial } of waiting.splice(0, count)) {
      const packs = load.find((one) => one.lotId === lotId);
      if (packs) packs.serials.push(serial);
      else load.push({ lotId, code, batch: plan.name, serials: [serial], mealsLeft: 0, keep: 0 });
    }
  }
}

function ingredientsOf(
  story: Story,
  plan: Cooking,
  item: string,
  quantity: number,
): { lotName: string | null; quantity: number }[] {
  if (STANDING.includes(item)) return [{ lotName: null, quantity }];
  const lotName = plan.from?.[item];
  if (lotName === undefined) return pick(story, item, quantity);
  pickFrom(story, item, lotName, quantity);
  return [{ lotName, quantity }];
}

/** Trim as weighed, much of it skins and roots; the rest is steam but for a little that nobody can explain. */
function lossesOf(plan: Cooking, loadsG: readonly number[]): object[] {
  const inputs = Object.entries(DISHES[plan.dish].inputs);
  const inG = inputs.reduce((sum, [item, quantity]) => sum + (item === 'oil' ? quantity * 0.92 : quantity), 0);
  const outG = loadsG.reduce((sum, load) => sum + load, 0);
  const unexplainedG = 20 + ((plan.day * 37) % 110);
  const steamG = Math.floor(inG + (plan.rework?.quantityG ?? 0) - outG - unexplainedG);
  if (steamG <= TRIM_G) return [];
  return [
    {
      kind: 'trim',
      massG: TRIM_G,
      destination: 'anaerobic-digestion',
      ...('onions' in DISHES[plan.dish].inputs && { inedibleMassG: SKINS_G }),
    },
    { kind: 'cooking-loss', massG: steamG - TRIM_G },
  ];
}
