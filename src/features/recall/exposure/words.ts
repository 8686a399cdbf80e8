/** Exposure in plain words. */
import type { ExposureLineAnswer } from './contract.ts';

const many = (count: number, one: string, more = `${one}s`): string =>
  `${count.toLocaleString('en-GB')} ${count === 1 ? one : more}`;

const PROCESS = { batch: 'batch', 'packing-run': 'a packing run of batch', conversion: 'a conversion at' } as const;

function whatSpread({ spread, straightInto, packs }: Omit<ExposureLineAnswer, 'whyText'>): string[] {
  if (!spread) return straightInto === 0 ? ['It has gone into nothing else yet.'] : [];
  const all = packs.there + packs.gone;
  const where =
    spread.kind === 'conversion'
      ? `${PROCESS.conversion} ${spread.siteName} (${spread.code ?? ''})`
      : `${PROCESS[spread.kind]} ${spread.code ?? ''}`.trimEnd();
  const from = spread.bins.length > 0 ? `, taken from ${spread.bins.join(' and ')}` : '';
  const again = spread.rework ? ', where finished food went in again' : '';
  const came = `${many(spread.inputLots, 'lot')} went in and ${many(spread.outputLots, 'lot')} came out`;
  const through =
    all > 0 ? `; ${many(spread.packsThrough, 'pack')} of ${all.toLocaleString('en-GB')} come through it` : '';
  return [
    `It went straight into ${many(straightInto, 'batch, run or conversion', 'batches, runs or conversions')}.`,
    `It spread the most in ${where}${from}${again}: ${came}${through}.`,
  ];
}

function whatLinks({ kind, itemName, dispersion }: Omit<ExposureLineAnswer, 'whyText'>): string[] {
  const { rawLots, processes, links, leastLinks } = dispersion;
  if (links === 0) return [];
  const raw =
    kind === 'batch' ? `${many(rawLots, 'load')} of it` : `${many(rawLots, 'delivery', 'deliveries')} of ${itemName}`;
  const said = `${raw} and what they went into (${processes.toLocaleString('en-GB')}) have ${many(links, 'link')}`;
  if (leastLinks === null) return [`${said}.`];
  if (leastLinks >= links) return [`${said}, and no fewer are possible.`];
  return [`${said}; the same amounts could have done with ${leastLinks}.`];
}

export function whyText(line: Omit<ExposureLineAnswer, 'whyText'>): string {
  const packs =
    line.packs.there + line.packs.gone > 0
      ? `${many(line.packs.there, 'pack')} at hand and ${line.packs.gone.toLocaleString('en-GB')} served or thrown away`
      : 'No packs yet';
  return [`${packs}, at ${many(line.sites.length, 'site')}.`, ...whatSpread(line), ...whatLinks(line)].join(' ');
}
