/** Calls of a running service, counted. A refusal is kept and the work goes on: what it would have made is then missing too. */

type Json = ReturnType<typeof JSON.parse>;

interface RefusedCall {
  readonly path: string;
  readonly status: number;
  readonly code: string;
  readonly detail: string;
}

export interface Tally {
  calls: number;
  /** of these, calls that carry many scans, each a fact of its own */
  scanCalls: number;
  /** facts whose first answer was given again */
  replays: number;
  scans: number;
  readonly refused: RefusedCall[];
}

export interface Api {
  readonly tally: Tally;
  /** Null when it was refused. */
  post(path: string, body: object): Promise<Json>;
  scans(siteId: string, scans: readonly object[]): Promise<void>;
}

/** The service takes so many scans in one call. */
const SCANS_A_CALL = 5000;

export function connect(url: string, token: string): Api {
  const tally: Tally = { calls: 0, scanCalls: 0, replays: 0, scans: 0, refused: [] };
  const headers = { authorization: `Bearer ${token}`, 'content-type': 'application/json' };

  async function post(path: string, body: object): Promise<Json> {
    tally.calls += 1;
    const answer = await fetch(url + path, { method: 'POST', headers, body: JSON.stringify(body) });
    const said: Json = await answer.json();
    if (!answer.ok) {
      const { code, detail } = said as { code?: string; detail?: string };
      tally.refused.push({ path, status: answer.status, code: code ?? '', detail: detail ?? '' });
      return null;
    }
    if (answer.headers.get('link')?.includes('rel="latest-version"')) tally.replays += 1;
    return said;
  }

  return {
    tally,
    post,
    async scans(siteId, scans) {
      for (let from = 0; from < scans.length; from += SCANS_A_CALL) {
        tally.scanCalls += 1;
        const answer = await post('/v1/scans', { siteId, scans: scans.slice(from, from + SCANS_A_CALL) });
        for (const result of (answer?.results ?? []) as Json[]) {
          tally.scans += 1;
          if (result.replayed) tally.replays += 1;
          if (result.status !== 'refused') continue;
          const { status, code, detail } = result.problem;
          tally.refused.push({ path: '/v1/scans', status, code, detail });
        }
      }
    },
  };
}
