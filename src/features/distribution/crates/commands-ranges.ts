/** Ranges of SSCCs. Refusals: `forbidden`, `rule-broken`. */
import { Refused } from '../../../domain/errors.ts';
import { highestSerial, rangesOverlap } from '../../../domain/sscc-ranges.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import type { createSsccRange } from './contract-ranges.ts';
import { insertRange, listRanges, lockGroup, setCompanyPrefix, type SsccRangeRow } from './store-ranges.ts';

/** Added by whoever may; each is one more small row to lock for every crate. */
const MOST_RANGES = 50;

const shown = ({ lastSerial, addedAt, ...row }: SsccRangeRow) => ({
  ...row,
  given: lastSerial - row.firstSerial + 1,
  left: highestSerial(row.companyPrefix) - lastSerial,
  addedAt: addedAt.toISOString(),
});

const broken = (detail: string, pointer: string) =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

export async function addRange(context: Context<typeof createSsccRange>): Promise<Reply> {
  const { body, tx, scope, factId, nowMs } = context;
  await lockGroup(tx);
  const ranges = await listRanges(tx);
  if (!scope.all) throw new Refused('forbidden', 'A company prefix is for those who act for every site.');
  const { companyPrefix, extensionDigit = 0, firstSerial = 0 } = body;
  if (/^0+$/.test(companyPrefix)) throw broken('No GS1 company prefix is all zeros.', '#/companyPrefix');
  if (firstSerial > highestSerial(companyPrefix))
    throw broken(`Beside ${companyPrefix} the highest number is ${highestSerial(companyPrefix)}.`, '#/firstSerial');
  const clash = ranges.find((range) => rangesOverlap(range, { companyPrefix, extensionDigit }));
  if (clash) {
    const detail = `Extension digit ${extensionDigit} is taken by ${clash.companyPrefix}: both would come to the same numbers.`;
    throw broken(detail, '#/extensionDigit');
  }
  if (ranges.length >= MOST_RANGES) throw broken(`There are ${MOST_RANGES} ranges at most.`, '#/companyPrefix');
  const row = { rangeId: factId, companyPrefix, extensionDigit, firstSerial };
  // From here on only success.
  await insertRange(tx, { ...row, position: ranges.length + 1 }, nowMs);
  await setCompanyPrefix(tx, companyPrefix);
  const answer = shown({ ...row, lastSerial: firstSerial - 1, addedAt: new Date(nowMs) });
  return { status: 201, body: answer, siteId: null, headers: { Location: '/v1/sscc-ranges' } };
}

export async function readRanges({ tx }: Pick<Context, 'tx'>): Promise<Reply> {
  return { status: 200, body: { items: (await listRanges(tx)).map(shown) } };
}
