/** The whole scenario, day by day. Within a day kitchens and sites work side by side; a site needs only what was packed the day before. */
import type { Api } from './api.ts';
import { addCatalogue } from './catalogue.ts';
import { kitchenDay } from './kitchen-day.ts';
import type { Plan } from './plan.ts';
import { siteDay } from './site-day.ts';

/** As many callers at once; the service is asked, not flooded. */
const AT_ONCE = 4;

export async function runScenario(
  api: Api,
  plan: Plan,
  dayDone: (day: number) => void = () => undefined,
): Promise<void> {
  await addCatalogue(api, plan);
  for (let day = 0; day < plan.days; day += 1) {
    const works = plan.kitchens.flatMap((kitchen) => [
      () => kitchenDay(api, plan, kitchen, day),
      ...kitchen.serves.map((site) => () => siteDay(api, plan, kitchen, site, day)),
    ]);
    await sideBySide(works);
    dayDone(day);
  }
}

async function sideBySide(works: readonly (() => Promise<void>)[]): Promise<void> {
  const waiting = [...works];
  const worker = async (): Promise<void> => {
    for (let work = waiting.shift(); work; work = waiting.shift()) await work();
  };
  await Promise.all(Array.from({ length: AT_ONCE }, worker));
}
