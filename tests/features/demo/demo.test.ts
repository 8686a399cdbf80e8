import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { loadDemo } from '../../../seeds/demo/load.ts';
import { createLog } from '../../../src/platform/log.ts';
import { demoTemplate } from '../../support/demo.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';

const LOADING_LIMIT_MS = 240_000;

describe('the demo', () => {
  let service: TestService;
  beforeAll(async () => {
    service = await startService({ template: await demoTemplate() });
  }, LOADING_LIMIT_MS);
  afterAll(() => service.stop());

  test('is there already: nothing is loaded twice', async () => {
    const parts = { db: service.db, tokens: service.tokens, log: createLog('error') };
    expect(await loadDemo({ ...parts, endMs: NOON_MS })).toEqual({ loaded: false });
    expect(await loadDemo({ ...parts, endMs: NOON_MS + 9 * 86_400_000 })).toEqual({ loaded: false });
  });
});
