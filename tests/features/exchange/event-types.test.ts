/** The table of event types against the code that writes the outbox, and the ledger's kinds of entries in the schema. */
import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import table from '../../../shared/event-types.json' with { type: 'json' };

const types: Readonly<Record<string, { from: string; kind?: string; fields?: string[] }>> = table;

test('every topic that is written is a type of event, or split into one; every type that rests on a topic is written', () => {
  const texts = readdirSync('src/features', { recursive: true, encoding: 'utf8' })
    .filter((file) => file.endsWith('.ts'))
    .map((file) => readFileSync(`src/features/${file}`, 'utf8'));
  const said = texts.flatMap((text) =>
    [...text.matchAll(/\boutbox\(\s*[\w.]+,\s*([^;]*?),\s*(?:\{|change\b)/gs)].flatMap((call) =>
      [...(call[1] ?? '').matchAll(/['`]([\w${}-]+)['`]/g)].map((name) => name[1] ?? ''),
    ),
  );
  const topics = said.flatMap((topic) => (topic === 'recall-${kind}' ? ['recall-closed', 'recall-reopened'] : [topic]));
  expect(topics.length).toBeGreaterThan(25);
  const told = topics.map((topic) => topic.replace(/^holds-/, 'hold-'));
  const ofOutbox = Object.entries(types).flatMap(([type, { from }]) => (from === 'outbox' ? [type] : []));
  expect([...new Set(told)].sort()).toEqual(ofOutbox.sort());
});

test('every kind of entry that the schema allows is a type of event', () => {
  const schema = readFileSync('migrations/schema.sql', 'utf8');
  const check = /constraint entry_kind_check CHECK .*?ARRAY\[(.*?)\]/s.exec(schema)?.[1] ?? '';
  const kinds = [...check.matchAll(/'([\w-]+)'::text/g)].map((match) => match[1]);
  expect(kinds.length).toBeGreaterThan(10);
  const named = Object.values(types).flatMap(({ from, kind }) => (from === 'entry' ? [kind] : []));
  expect(named.sort()).toEqual(kinds.sort());
});
