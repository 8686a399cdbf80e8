/** What-if projections: no record is read and none written. Refusal: `rule-broken`. */
import type { WhatIfAnswer } from '../../domain/life/what-if-shapes.ts';
import { answerWhatIf } from '../../domain/life/what-if.ts';
import { utc } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import type { projectShelfLife, ProjectionAnswer } from './contract.ts';
import { drawProjection } from './projection-picture.ts';

export async function answerProjection({ body, query, accept }: Context<typeof projectShelfLife>): Promise<Reply> {
  const answer = answerWhatIf(body);
  const wanted = accept(['application/json', 'image/svg+xml']) === 'image/svg+xml' ? 'svg' : 'json';
  if ((query.format ?? wanted) === 'json') return { status: 200, body: asSent(answer) };
  return { status: 200, raw: { contentType: 'image/svg+xml; charset=utf-8', data: drawProjection(answer) } };
}

function asSent({ startsAtMs, toxinAdvisory, steps, cautions, sources, ...rest }: WhatIfAnswer): ProjectionAnswer {
  return {
    ...rest,
    startsAt: startsAtMs === null ? null : utc(startsAtMs),
    toxinAdvisory: toxinAdvisory && { ...toxinAdvisory, basis: 'from-memory' },
    steps: steps.map(({ fromC, toC, ...step }) => ({ ...step, temperatureC: fromC, toTemperatureC: toC })),
    cautions: [...cautions],
    sources: [...sources],
  };
}
