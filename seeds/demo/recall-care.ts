/**
 * How the demo's cases are cared for: ward 9 has read of the parsley and destroyed it; a drill of the first week was answered by every
 * site and closed; another is answered and waits for the quality lead to close it.
 */
import { derivedId } from '../../src/platform/ids.ts';
import { satellites } from './catalogue.ts';
import { as, type Who } from './door.ts';
import { id, type Story } from './story.ts';
import { receiverOf } from './vans.ts';

const DRILL_DAY = 5;
const LAST = 13;

type Site = 'ck' | (typeof satellites)[number];
const sites: readonly Site[] = ['ck', ...satellites];
const someoneAt = (site: Site): Who => (site === 'ck' ? as('kitchen', 'site/ck') : receiverOf(site));

/** People of catalogue.ts. */
const NAMES: Readonly<Record<Site, string>> = {
  ck: 'Sam Dale',
  w3: 'Wren Ashby',
  w7: 'Bea Thorn',
  w9: 'Gil Harrow',
  sch: 'Polly Vane',
  care: 'Hal Wick',
  hot: 'Cato Lunn',
};

const noticeOf = (recall: string, site: Site): string =>
  derivedId(`recall-notice-1-${id(`site/${site}`)}`, id(`recall/${recall}`));

/** What is booked at each site is there, as everybody finds who looks. */
async function allFound(story: Story, recall: string): Promise<void> {
  const account = await story.door.find(as('quality'), `/v1/recalls/${id(`recall/${recall}`)}/account`);
  for (const site of sites) {
    const open = account?.sites?.find((one) => one.siteId === id(`site/${site}`))?.lines ?? [];
    const lines = open
      .filter((line) => line.open > 0)
      .map(({ lotId, unit, open: quantity }) => ({ lotId, outcome: 'found', quantity, unit }));
    if (lines.length === 0) continue;
    await story.door.post(
      someoneAt(site),
      `/v1/recalls/${id(`recall/${recall}`)}/responses`,
      `response/${recall}-${site}`,
      {
        siteId: id(`site/${site}`),
        signedBy: NAMES[site],
        lines,
      },
    );
  }
}

/** A drill on shin that was cooked the day before and has just gone out to six sites. */
function closedDrill(story: Story): void {
  const recall = id('recall/drill-shin');
  story.happens(DRILL_DAY, '15:00', () =>
    story.door.post(as('quality'), '/v1/recalls', 'recall/drill-shin', {
      title: 'First drill: the shin of the day before',
      drill: true,
      starts: [{ kind: 'lot', lotId: id('lot/beef-shin-1') }],
    }),
  );
  for (const [at, site] of sites.entries()) {
    story.happens(DRILL_DAY, `15:${String(4 + 3 * at).padStart(2, '0')}`, async () => {
      const path = `/v1/recall-notices/${noticeOf('drill-shin', site)}`;
      if ((await story.door.find(someoneAt(site), path)) === null) return;
      await story.door.post(someoneAt(site), `${path}/acknowledgement`, `acknowledgement/drill-shin-${site}`, {
        name: NAMES[site],
      });
    });
  }
  story.happens(DRILL_DAY, '15:40', async () => {
    await allFound(story, 'drill-shin');
    await story.door.post(as('quality'), `/v1/recalls/${recall}/closing`, 'closing/drill-shin', {
      note: 'Every site answered within 40 minutes',
    });
  });
}

export function recallCare(story: Story): void {
  closedDrill(story);
  story.happens(LAST, '11:36', () =>
    story.door.post(as('quality'), '/v1/recalls', 'recall/drill-dressing', {
      title: 'Drill: the dressing without its certificate',
      drill: true,
      starts: [{ kind: 'lot', lotId: id('lot/dressing-1') }],
    }),
  );
  story.happens(LAST, '11:38', () => allFound(story, 'drill-dressing'));
  story.happens(LAST, '11:41', () =>
    story.door.post(
      receiverOf('w9'),
      `/v1/recall-notices/${noticeOf('parsley', 'w9')}/acknowledgement`,
      'acknowledgement/parsley-w9',
      { name: 'Gil Harrow' },
    ),
  );
  story.happens(LAST, '11:48', () =>
    story.door.post(receiverOf('w9'), `/v1/recalls/${id('recall/parsley')}/responses`, 'response/parsley-w9', {
      siteId: id('site/w9'),
      signedBy: 'Gil Harrow',
      lines: [
        {
          lotId: id('lot/parsley-1'),
          outcome: 'destroyed',
          quantity: 200,
          unit: 'g',
          placeId: id('place/w9-chiller'),
          witness: 'Ines Marrow',
        },
      ],
    }),
  );
}
