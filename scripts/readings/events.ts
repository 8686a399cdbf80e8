/** Follows an import by its events until it is done. The stream may end before that; then it is asked for again. */
export interface ImportState {
  readonly readingImportId: string;
  readonly state: string;
  readonly percent: number;
  readonly received: number;
  readonly stored: number;
  readonly duplicates: number;
  readonly conflicts: number;
  readonly refused: number;
  readonly problems: readonly { readonly line: number; readonly code: string; readonly detail: string }[];
}

const MOST_TRIES = 50;

/** @throws Error when the service refuses, or the stream ended fifty times without an end of the import */
export async function followImport(
  url: string,
  token: string,
  onState: (state: ImportState) => void,
): Promise<ImportState> {
  for (let tries = 0; tries < MOST_TRIES; tries += 1) {
    const answer = await fetch(url, { headers: { authorization: `Bearer ${token}`, accept: 'text/event-stream' } });
    if (answer.status !== 200 || answer.body === null) {
      throw new Error(`the service answered ${answer.status}: ${(await answer.text()).slice(0, 1000)}`);
    }
    for await (const state of statesIn(answer.body)) {
      onState(state);
      if (state.state === 'done') return state;
    }
  }
  throw new Error('the import goes on; ask for it later');
}

/** https://html.spec.whatwg.org/multipage/server-sent-events.html: events end at an empty line, comments begin with a colon. */
async function* statesIn(body: ReadableStream<Uint8Array>): AsyncGenerator<ImportState> {
  const decoder = new TextDecoder();
  let text = '';
  for await (const chunk of body as unknown as AsyncIterable<Uint8Array>) {
    text += decoder.decode(chunk, { stream: true });
    const events = text.split('\n\n');
    text = events.pop() ?? '';
    for (const event of events) {
      const data = /^data: (.*)$/m.exec(event)?.[1];
      if (data !== undefined) yield JSON.parse(data) as ImportState;
    }
  }
}
