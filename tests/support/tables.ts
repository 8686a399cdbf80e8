/** What is in a database, to compare before and after. */
import { asAdmin } from './test-server.ts';

/** Of every table its number of rows and a hash of all that they hold. */
export async function contentOfTables(databaseUrl: string): Promise<Map<string, string>> {
  return asAdmin(databaseUrl, async (owner) => {
    const { rows: tables } = await owner.query<{ name: string }>(
      `select format('%I.%I', schemaname, tablename) as name from pg_tables
        where schemaname not in ('pg_catalog', 'information_schema') order by 1`,
    );
    const content = new Map<string, string>();
    for (const { name } of tables) {
      const { rows } = await owner.query<{ content: string }>(
        `select count(*) || ' rows ' || coalesce(md5(string_agg(t::text, E'\\n' order by t::text)), '') as content from ${name} t`,
      );
      content.set(name.replace(/^public\./, ''), rows[0]?.content ?? '');
    }
    return content;
  });
}
