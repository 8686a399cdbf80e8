/**
 * What the demo's story keeps in mind while it is told: an agenda of what happens when, what lies in the kitchen's stores and on the sites'
 * shelves. The book-keeping is the service's own; this only knows enough to tell a story that could have been.
 */
import { exampleId } from '../../src/platform/ids.ts';
import { satellites, type Satellite } from './catalogue.ts';
import { LAST_DAY, type Calendar } from './calendar.ts';
import type { Door } from './door.ts';

/** What is left of a supplier's lot in the kitchen's store. */
interface Bin {
  readonly lotName: string;
  left: number;
}

/** Packs of one lot at a site, or on their way to it. */
export interface Packs {
  readonly lotId: string;
  readonly code: string;
  /** example name of the batch, such as 'stew-c' */
  readonly batch: string;
  serials: string[];
  mealsLeft: number;
  /** packs that nobody serves until later */
  keep: number;
}

interface Planned {
  readonly at: string;
  readonly order: number;
  readonly run: () => Promise<unknown>;
}

export interface Story {
  readonly door: Door;
  readonly calendar: Calendar;
  readonly stores: Map<string, Bin[]>;
  readonly shelves: Readonly<Record<Satellite, Packs[]>>;
  /** what a van is to bring, by day and site */
  readonly loads: Map<string, Packs[]>;
  /** Something that happens at a time of a day; it is recorded a little later. */
  happens(day: number, time: string, run: (at: string) => Promise<unknown>): void;
  tell(progress: (text: string) => void): Promise<void>;
}

/** How long after it happened something is recorded, in milliseconds. */
const RECORDED_AFTER_MS = 95_000;

export const ck = (): string => exampleId('site/ck');
export const id = exampleId;

export function beginStory(door: Door, calendar: Calendar): Story {
  const agenda: Planned[] = [];
  return {
    door,
    calendar,
    stores: new Map(),
    shelves: Object.fromEntries(satellites.map((key) => [key, [] as Packs[]])) as Record<Satellite, Packs[]>,
    loads: new Map(),
    happens(day, time, run) {
      const at = calendar.at(day, time);
      agenda.push({ at, order: agenda.length, run: () => run(at) });
    },
    async tell(progress) {
      const inOrder = [...agenda].sort((a, b) => (a.at < b.at ? -1 : a.at > b.at ? 1 : a.order - b.order));
      let day = -1;
      for (const { at, run } of inOrder) {
        while (day < LAST_DAY && at >= calendar.at(day + 1, '00:00')) {
          day += 1;
          progress(`Demo: day ${day + 1} of ${LAST_DAY + 1}, ${calendar.date(day)}`);
        }
        door.setTime(later(at, RECORDED_AFTER_MS / 1000));
        await run();
      }
    },
  };
}

/** `minutes` after a time of day such as '06:50'. */
export function clock(start: string, minutes: number): string {
  const [hour = 0, minute = 0] = start.split(':').map(Number);
  const all = hour * 60 + minute + minutes;
  return `${String(Math.floor(all / 60)).padStart(2, '0')}:${String(all % 60).padStart(2, '0')}`;
}

export function later(instant: string, seconds: number): string {
  return new Date(Date.parse(instant) + seconds * 1000).toISOString();
}

/** Oldest first; several lots when the first runs out. */
export function pick(story: Story, item: string, quantity: number): { lotName: string; quantity: number }[] {
  const picked: { lotName: string; quantity: number }[] = [];
  let wanted = quantity;
  for (const bin of story.stores.get(item) ?? []) {
    const taken = Math.min(bin.left, wanted);
    if (taken === 0) continue;
    bin.left -= taken;
    wanted -= taken;
    picked.push({ lotName: bin.lotName, quantity: taken });
  }
  if (wanted > 0) throw new Error(`The demo's store is short of ${wanted} of ${item}.`);
  return picked;
}

/** Takes from one lot, by its name. */
export function pickFrom(story: Story, item: string, lotName: string, quantity: number): void {
  const bin = story.stores.get(item)?.find((one) => one.lotName === lotName);
  if (bin === undefined || bin.left < quantity) throw new Error(`The demo's store is short of ${lotName}.`);
  bin.left -= quantity;
}

/** Takes packs of a batch off a site's shelf. */
export function offShelf(story: Story, site: Satellite, batch: string, count: number): Packs & { taken: string[] } {
  const packs = story.shelves[site].find((one) => one.batch === batch && one.serials.length >= count);
  if (packs === undefined) throw new Error(`The demo's ${site} is short of ${batch}.`);
  return { ...packs, taken: packs.serials.splice(0, count) };
}

export function loadFor(story: Story, day: number, site: Satellite): Packs[] {
  const key = `${site}-${day}`;
  const load = story.loads.get(key) ?? [];
  story.loads.set(key, load);
  return load;
}
