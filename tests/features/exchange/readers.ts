/** Readers of the feed, as other systems would write them, and what is in its table. */
import { feedJobs } from '../../../src/features/exchange/feed/jobs.ts';
import type { Client, TestService } from '../../support/service.ts';
import { asAdmin } from '../../support/test-server.ts';

export async function feedJobsOf(service: TestService, name: string): Promise<void> {
  await feedJobs(service)
    .find((one) => one.name === name)
    ?.run({ groupId: service.groupId });
}

/** Reads on from `next` until `done` was so before an empty answer. Answers the numbers as they came. */
export async function readFeed(client: Client, query: string, done: () => boolean): Promise<number[]> {
  const nos: number[] = [];
  for (let after = '0'; ;) {
    const last = done();
    const { body, status, text } = await client.get(`/v1/events?${query}&after=${after}`);
    if (status !== 200) throw new Error(text);
    for (const item of body.items as { eventNo: number }[]) nos.push(item.eventNo);
    after = body.next as string;
    if (last && body.items.length === 0) return nos;
  }
}

/** Listens, breaks off after every 40 events, and connects again from the last id it had. */
export async function readStream(
  url: string,
  token: string,
  done: () => boolean,
  begin: Record<string, string> = {},
): Promise<number[]> {
  const nos: number[] = [];
  let headers = begin;
  for (;;) {
    const last = done();
    const stop = new AbortController();
    const response = await fetch(`${url}/v1/events`, {
      headers: { accept: 'text/event-stream', authorization: `Bearer ${token}`, ...headers },
      signal: stop.signal,
    });
    if (response.status !== 200 || !response.body) throw new Error(`the stream answered ${response.status}`);
    const quiet = setTimeout(() => stop.abort(), 1_500);
    let got = 0;
    let text = '';
    try {
      for await (const chunk of response.body.pipeThrough(new TextDecoderStream())) {
        text += chunk;
        const records = text.split('\n\n');
        text = records.pop() ?? '';
        for (const record of records) {
          const id = /^id: (\d+)$/m.exec(record)?.[1];
          if (id === undefined || got >= 40) continue;
          headers = { 'last-event-id': id };
          if (!/^data: /m.test(record)) continue;
          nos.push(Number(id));
          got += 1;
        }
        if (got >= 40) break;
      }
    } catch (error) {
      if (!stop.signal.aborted) throw error;
    } finally {
      clearTimeout(quiet);
      stop.abort();
    }
    if (last && got === 0) return nos;
    if (begin['last-event-id'] !== undefined) return nos;
  }
}

export const sourcesOf = (service: TestService): Promise<{ eventNo: number; source: string }[]> =>
  asAdmin(service.databaseUrl, (client) =>
    client
      .query<{ eventNo: number; source: string }>(
        `select event_no::int as "eventNo", source from event where group_id = $1 order by event_no`,
        [service.groupId],
      )
      .then((result) => result.rows),
  );
