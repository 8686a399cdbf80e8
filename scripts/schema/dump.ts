/**
 * The schema of a database as text that looks like SQL, for people to read and for a comparison to find drift. It comes from the
 * catalogues because the npm packages of Postgres hold no pg_dump. The same schema gives the same bytes on every server from Postgres
 * 15: everything is sorted by name, and what a newer server records in addition (constraints for not null) is left out.
 */
import type pg from 'pg';

interface Relation {
  readonly oid: number;
  readonly name: string;
  /** pg_class.relkind: r table, p partitioned table, v view, m materialized view, S sequence */
  readonly kind: string;
  readonly security: boolean;
  readonly forced: boolean;
  readonly partitioned_by: string | null;
  readonly partition_of: string | null;
  readonly view: string | null;
  readonly options: string | null;
}

type Lines = (sql: string, values?: readonly unknown[]) => Promise<string[]>;

const ROLES = ['sealtrail_app', 'sealtrail_queue'];

/** Only schema public, without knex's own tables. `client`: a connection of its own; its search path is changed. */
export async function dumpSchema(client: pg.Client): Promise<string> {
  // Names of this schema are then written without it, and everything else in full.
  await client.query('set search_path = public');
  const lines: Lines = async (sql, values = []) => {
    const { rows } = await client.query<{ line: string }>(sql, [...values]);
    return rows.map((row) => row.line);
  };
  const sections = [
    await schemaRights(lines),
    await types(lines),
    ...(await functions(lines)),
    ...(await relations(client, lines)),
  ];
  const text = sections.filter((section) => section.length > 0).map((section) => section.join('\n'));
  return `-- Generated from the migrations by npm run -s db:schema. To read, not to run.\n\n${text.join('\n\n')}\n`;
}

const schemaRights = async (lines: Lines): Promise<string[]> =>
  (
    await lines(
      `select format('grant %s on schema %I to %I;', lower(a.privilege_type), n.nspname, r.rolname) as line
     from pg_namespace n, aclexplode(n.nspacl) a join pg_roles r on r.oid = a.grantee
     where n.nspname = 'public' and r.rolname = any($1::text[])`,
      [ROLES],
    )
  ).sort();

const types = (lines: Lines): Promise<string[]> =>
  lines(
    `select line from (
       select format('create type %I as enum (%s);', t.typname,
                     (select string_agg(quote_literal(e.enumlabel), ', ' order by e.enumsortorder)
                      from pg_enum e where e.enumtypid = t.oid)) as line
       from pg_type t where t.typnamespace = 'public'::regnamespace and t.typtype = 'e'
       union all
       select format('create domain %I as %s%s;', t.typname, format_type(t.typbasetype, t.typtypmod),
                     (select string_agg(' ' || pg_get_constraintdef(c.oid), '' order by c.conname collate "C")
                      from pg_constraint c where c.contypid = t.oid and c.contype = 'c'))
       from pg_type t where t.typnamespace = 'public'::regnamespace and t.typtype = 'd'
     ) one order by line collate "C"`,
  );

/** Each with its rights; a function without a list of rights may be called by everybody. */
async function functions(lines: Lines): Promise<string[][]> {
  const found = await lines(
    `select pg_get_functiondef(p.oid) || ';' || coalesce((
        select string_agg(format(E'\\ngrant execute on function %s to %s;', p.oid::regprocedure,
                                 coalesce(quote_ident(r.rolname), 'public')), ''
                          order by coalesce(r.rolname, '') collate "C")
        from aclexplode(p.proacl) a left join pg_roles r on r.oid = a.grantee
        where a.grantee = 0 or r.rolname = any($1::text[])), '') as line
     from pg_proc p
     where p.pronamespace = 'public'::regnamespace and p.prokind in ('f', 'p')
       and not exists (select from pg_depend d where d.objid = p.oid and d.deptype = 'e')
     order by p.oid::regprocedure::text collate "C"`,
    [ROLES],
  );
  return found.map((one) => [one.replaceAll(/[ \t]+$/gm, '')]);
}

async function relations(client: pg.Client, lines: Lines): Promise<string[][]> {
  const { rows } = await client.query<Relation>(
    `select c.oid::int8::int4 as oid, quote_ident(c.relname) as name, c.relkind::text as kind,
            c.relrowsecurity as security, c.relforcerowsecurity as forced,
            case when c.relkind = 'p' then pg_get_partkeydef(c.oid) end as partitioned_by,
            case when c.relispartition then
              (select i.inhparent::regclass::text from pg_inherits i where i.inhrelid = c.oid)
              || ' ' || pg_get_expr(c.relpartbound, c.oid) end as partition_of,
            case when c.relkind in ('v', 'm') then pg_get_viewdef(c.oid, true) end as view,
            array_to_string(c.reloptions, ', ') as options
     from pg_class c
     where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p', 'v', 'm', 'S')
       and c.relname not like 'knex\\_migrations%'
     order by c.relname collate "C"`,
  );
  const sections: string[][] = [];
  for (const relation of rows) {
    const head = await headOf(lines, relation);
    const rest = [...(await belongings(lines, relation)), ...(await rights(lines, relation))];
    if (head.length + rest.length > 0) sections.push([...head, ...rest]);
  }
  return sections;
}

async function headOf(lines: Lines, relation: Relation): Promise<string[]> {
  const { name, kind, view } = relation;
  const options = relation.options === null ? '' : ` with (${relation.options})`;
  if (kind === 'S') return await sequence(lines, relation);
  if (view !== null) return [`create ${kind === 'm' ? 'materialized ' : ''}view ${name}${options} as`, view.trimEnd()];
  if (relation.partition_of !== null) {
    return [`create table ${name} partition of ${relation.partition_of}${options};`, ...security(relation)];
  }
  const parts = [...(await columns(lines, relation.oid)), ...(await constraints(lines, relation.oid))];
  const partitions = relation.partitioned_by === null ? '' : ` partition by ${relation.partitioned_by}`;
  const body = parts.map((part, at) => `  ${part}${at === parts.length - 1 ? '' : ','}`);
  return [`create table ${name} (`, ...body, `)${partitions}${options};`, ...security(relation)];
}

function security({ name, security: on, forced }: Relation): string[] {
  return [
    ...(on ? [`alter table ${name} enable row level security;`] : []),
    ...(forced ? [`alter table ${name} force row level security;`] : []),
  ];
}

/** An identity column's sequence is part of its column. */
const sequence = (lines: Lines, { oid, name }: Relation): Promise<string[]> =>
  lines(
    `select format('create sequence %s as %s start %s increment %s;', $2::text, format_type(s.seqtypid, null),
                   s.seqstart, s.seqincrement) as line
     from pg_sequence s
     where s.seqrelid = $1::oid
       and not exists (select from pg_depend d where d.objid = s.seqrelid and d.deptype = 'i')`,
    [oid, name],
  );

const columns = (lines: Lines, oid: number): Promise<string[]> =>
  lines(
    `select quote_ident(a.attname) || ' ' || format_type(a.atttypid, a.atttypmod)
            || case when a.attcollation <> t.typcollation
                    then ' collate ' || a.attcollation::regcollation::text else '' end
            || case a.attidentity when 'a' then ' generated always as identity'
                                  when 'd' then ' generated by default as identity' else '' end
            || case when a.attgenerated = 's' then format(' generated always as (%s) stored', pg_get_expr(d.adbin, d.adrelid))
                    when a.attgenerated = 'v' then format(' generated always as (%s)', pg_get_expr(d.adbin, d.adrelid))
                    when d.adbin is not null then ' default ' || pg_get_expr(d.adbin, d.adrelid) else '' end
            || case when a.attnotnull then ' not null' else '' end as line
     from pg_attribute a
     join pg_type t on t.oid = a.atttypid
     left join pg_attrdef d on d.adrelid = a.attrelid and d.adnum = a.attnum
     where a.attrelid = $1::oid and a.attnum > 0 and not a.attisdropped
     order by a.attnum`,
    [oid],
  );

const constraints = (lines: Lines, oid: number): Promise<string[]> =>
  lines(
    `select format('constraint %I %s', c.conname, pg_get_constraintdef(c.oid)) as line
     from pg_constraint c
     where c.conrelid = $1::oid and c.contype in ('p', 'u', 'f', 'c', 'x')
     order by array_position(array['p', 'u', 'x', 'f', 'c'], c.contype::text), c.conname collate "C"`,
    [oid],
  );

/** Indexes that no constraint made, triggers of our own, row policies. */
async function belongings(lines: Lines, { oid, name }: Relation): Promise<string[]> {
  return [
    ...(await lines(
      `select pg_get_indexdef(i.indexrelid) || ';' as line
       from pg_index i join pg_class c on c.oid = i.indexrelid
       where i.indrelid = $1::oid and not c.relispartition
         and not exists (select from pg_constraint k where k.conindid = i.indexrelid and k.contype in ('p', 'u', 'x'))
       order by c.relname collate "C"`,
      [oid],
    )),
    ...(await lines(
      `select pg_get_triggerdef(t.oid) || ';' as line from pg_trigger t
       where t.tgrelid = $1::oid and not t.tgisinternal and t.tgparentid = 0 order by t.tgname collate "C"`,
      [oid],
    )),
    ...(await lines(
      `select format('create policy %I on %s as %s for %s to %s%s%s;', p.polname, $2::text,
                     case when p.polpermissive then 'permissive' else 'restrictive' end,
                     case p.polcmd when 'r' then 'select' when 'a' then 'insert' when 'w' then 'update'
                                   when 'd' then 'delete' else 'all' end,
                     case when p.polroles = array[0::oid] then 'public' else
                       (select string_agg(quote_ident(r.rolname), ', ' order by r.rolname collate "C")
                        from pg_roles r where r.oid = any(p.polroles)) end,
                     ' using (' || pg_get_expr(p.polqual, p.polrelid) || ')',
                     ' with check (' || pg_get_expr(p.polwithcheck, p.polrelid) || ')') as line
       from pg_policy p where p.polrelid = $1::oid order by p.polname collate "C"`,
      [oid, name],
    )),
  ];
}

const rights = async (lines: Lines, { oid, name, kind }: Relation): Promise<string[]> =>
  (
    await lines(
      `select format('grant %s on %s%s to %I;', g.rights, case when $3::text = 'S' then 'sequence ' else '' end,
                   $2::text, g.role) as line
     from (
       select r.rolname as role, string_agg(lower(a.privilege_type), ', ' order by a.privilege_type collate "C") as rights
       from pg_class c, aclexplode(c.relacl) a join pg_roles r on r.oid = a.grantee
       where c.oid = $1::oid and r.rolname = any($4::text[]) group by r.rolname
       union all
       select r.rolname, lower(a.privilege_type) || ' (' || string_agg(quote_ident(t.attname), ', ' order by t.attnum) || ')'
       from pg_attribute t, aclexplode(t.attacl) a join pg_roles r on r.oid = a.grantee
       where t.attrelid = $1::oid and r.rolname = any($4::text[]) group by r.rolname, a.privilege_type
     ) g`,
      [oid, name, kind, ROLES],
    )
  ).sort();
