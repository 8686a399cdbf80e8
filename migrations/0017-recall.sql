-- Recall: what a hold's reach came by, edges with the time at which they were recorded, cases and all that is said in them.

-- A case has one hold for its whole scope, with one row in hold_reach per lot. What brought a lot in stands beside it, so that the reach
-- of the hold is the scope with its reasons: roots have no cause, the others name the lot and the process that they came from.
alter table hold_reach add column process_id uuid;
alter table hold_reach add column fact_id uuid;
-- A recall of a staple reaches tens of thousands of lots in one statement, and each row would look the same hold up again: a fifth of the
-- time for which the gate is closed. Rows are only written beside their hold, and read through it.
alter table hold_reach drop constraint hold_reach_hold_fkey;

-- When an edge became known, by whose fact; and edges that were taken back. "As recorded at" reads both.
alter table lot_edge add column recorded_at timestamptz;
alter table lot_edge add column fact_id uuid;

alter table lot_edge no force row level security;
alter table lot no force row level security;
alter table posting no force row level security;
alter table entry no force row level security;
update lot_edge le
   set recorded_at = coalesce(
         (select min(e.recorded_at)
            from posting p
            join entry e on e.group_id = p.group_id and e.seq = p.seq
           where p.group_id = le.group_id and p.lot_id = le.child_lot_id),
         (select l.born_at from lot l where l.group_id = le.group_id and l.lot_id = le.child_lot_id));
alter table lot_edge force row level security;
alter table lot force row level security;
alter table posting force row level security;
alter table entry force row level security;
alter table lot_edge alter column recorded_at set not null;

create table lot_edge_past (
  group_id uuid not null references groups (group_id),
  past_id bigint not null generated always as identity,
  parent_lot_id uuid not null,
  child_lot_id uuid not null,
  process_id uuid not null,
  recorded_at timestamptz not null,
  removed_at timestamptz not null,
  constraint lot_edge_past_pkey primary key (group_id, past_id)
);
create index lot_edge_past_parent_idx on lot_edge_past (parent_lot_id, group_id);
create index lot_edge_past_child_idx on lot_edge_past (child_lot_id, group_id);
select protect_group_table('lot_edge_past');
grant select, insert on lot_edge_past to sealtrail_app;

-- A supplier's code as people compare it: in capitals, without spaces, dashes and other marks of ASCII, Latin-1 and general punctuation.
-- By numbers of characters, since classes of characters would depend on the database's locale.
create function supplier_lot_key(code text) returns text language sql immutable strict parallel safe as
$$ select nullif(upper(regexp_replace(code, '[\u0001-\u002f\u003a-\u0040\u005b-\u0060\u007b-\u00a9\u00ab-\u00b4\u00b6-\u00b9\u00bb-\u00bf\u2000-\u206f]', '', 'g')), '') $$;
alter table lot add column supplier_lot_key text generated always as (supplier_lot_key(supplier_lot_code)) stored;
create index lot_supplier_key_idx on lot (supplier_lot_key, group_id) where supplier_lot_key is not null;

-- Deliveries that come, or are recorded, after a hold was placed on a supplier's lot.
create table hold_watch (
  group_id uuid not null references groups (group_id),
  hold_id uuid not null,
  supplier_id uuid not null,
  supplier_lot_key text not null check (supplier_lot_key <> ''),
  constraint hold_watch_pkey primary key (group_id, hold_id, supplier_id, supplier_lot_key),
  constraint hold_watch_hold_fkey foreign key (group_id, hold_id) references hold (group_id, hold_id)
);
create index hold_watch_key_idx on hold_watch (supplier_lot_key, supplier_id, group_id);
select protect_group_table('hold_watch');
grant select, insert on hold_watch to sealtrail_app;

-- Cases. Nothing in a case is ever edited: whatever changes is a further row, and the newest is in force.
create table recall (
  group_id uuid not null references groups (group_id),
  recall_id uuid not null,
  code text not null,
  drill boolean not null,
  title text not null,
  hold_id uuid not null,
  opened_at timestamptz not null,
  opened_by uuid not null,
  opened_deputy_id uuid,
  -- the group's last entry before the opening: what happened before it has this number at most, whatever the clocks say
  opened_seq bigint not null,
  -- how long finding and freezing the scope took
  scope_ms integer not null check (scope_ms >= 0),
  -- a drill on a lot drawn by chance: what it was drawn with
  drawn_with text,
  constraint recall_pkey primary key (group_id, recall_id),
  constraint recall_code_key unique (code, group_id),
  constraint recall_hold_fkey foreign key (group_id, hold_id) references hold (group_id, hold_id),
  constraint recall_drawn_is_drill check (drawn_with is null or drill)
);
select protect_group_table('recall');
grant select, insert on recall to sealtrail_app;

-- A starting point, as it was said. fact_id: the opening, or the later addition.
create table recall_start (
  group_id uuid not null references groups (group_id),
  recall_id uuid not null,
  start_id uuid not null,
  position integer not null check (position > 0),
  kind text not null,
  said jsonb not null,
  fact_id uuid not null,
  added_at timestamptz not null,
  added_by uuid not null,
  constraint recall_start_pkey primary key (group_id, start_id),
  constraint recall_start_recall_fkey foreign key (group_id, recall_id) references recall (group_id, recall_id)
);
create index recall_start_recall_idx on recall_start (recall_id, group_id);
select protect_group_table('recall_start');
grant select, insert on recall_start to sealtrail_app;

-- The lots that a starting point named.
create table recall_start_lot (
  group_id uuid not null references groups (group_id),
  start_id uuid not null,
  lot_id uuid not null,
  matched_at timestamptz not null,
  constraint recall_start_lot_pkey primary key (group_id, start_id, lot_id),
  constraint recall_start_lot_start_fkey foreign key (group_id, start_id) references recall_start (group_id, start_id),
  constraint recall_start_lot_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
create index recall_start_lot_lot_idx on recall_start_lot (lot_id, group_id);
select protect_group_table('recall_start_lot');
grant select, insert on recall_start_lot to sealtrail_app;

-- What is said of the case: class, depth, what is to be done with the food, why, how thoroughly to check, who leads. Each row says some of it.
create table recall_statement (
  group_id uuid not null references groups (group_id),
  statement_id uuid not null,
  -- which is the newest: two of one millisecond have an order as well
  statement_no bigint not null generated always as identity,
  recall_id uuid not null,
  said jsonb not null,
  said_at timestamptz not null,
  said_by uuid not null,
  constraint recall_statement_pkey primary key (group_id, statement_id),
  constraint recall_statement_recall_fkey foreign key (group_id, recall_id) references recall (group_id, recall_id)
);
create index recall_statement_recall_idx on recall_statement (recall_id, group_id);
select protect_group_table('recall_statement');
grant select, insert on recall_statement to sealtrail_app;

-- What a site was told. It covers the lots that the case had reached by sent_at; lots: those that the site has or had, as listed in it.
create table recall_notice (
  group_id uuid not null references groups (group_id),
  notice_id uuid not null,
  recall_id uuid not null,
  site_id uuid not null,
  notice_no integer not null check (notice_no > 0),
  -- all that the site has or had; the list may be shorter
  lot_count integer not null check (lot_count > 0),
  lots jsonb not null,
  -- the site had some of it there, or on its way, when it was told: it has to answer
  awaits_answer boolean not null,
  body_text text not null,
  sent_at timestamptz not null,
  sent_by uuid not null,
  constraint recall_notice_pkey primary key (group_id, notice_id),
  constraint recall_notice_no_key unique (recall_id, site_id, notice_no, group_id),
  constraint recall_notice_recall_fkey foreign key (group_id, recall_id) references recall (group_id, recall_id),
  constraint recall_notice_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);
create index recall_notice_site_idx on recall_notice (site_id, group_id, sent_at);
select protect_group_table('recall_notice');
grant select, insert on recall_notice to sealtrail_app;

create table recall_acknowledgement (
  group_id uuid not null references groups (group_id),
  notice_id uuid not null,
  acknowledgement_id uuid not null,
  acknowledged_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  name text not null,
  note text,
  constraint recall_acknowledgement_pkey primary key (group_id, notice_id),
  constraint recall_acknowledgement_notice_fkey foreign key (group_id, notice_id) references recall_notice (group_id, notice_id)
);
select protect_group_table('recall_acknowledgement');
grant select, insert on recall_acknowledgement to sealtrail_app;

-- A site's answer, signed. A line says what became of a quantity of one lot; of lines about the same lot at the same site the newest response holds.
create table recall_response (
  group_id uuid not null references groups (group_id),
  response_id uuid not null,
  -- which is the newest: two of one millisecond have an order as well
  response_no bigint not null generated always as identity,
  recall_id uuid not null,
  site_id uuid not null,
  responded_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  signed_by text not null,
  note text,
  constraint recall_response_pkey primary key (group_id, response_id),
  constraint recall_response_recall_fkey foreign key (group_id, recall_id) references recall (group_id, recall_id),
  constraint recall_response_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);
create index recall_response_recall_idx on recall_response (recall_id, group_id);
select protect_group_table('recall_response');
grant select, insert on recall_response to sealtrail_app;

create table recall_response_line (
  group_id uuid not null references groups (group_id),
  response_id uuid not null,
  line_no integer not null check (line_no > 0),
  lot_id uuid not null,
  outcome text not null check (outcome in ('found', 'quarantined', 'destroyed', 'returned', 'already-served', 'not-found')),
  quantity bigint not null check (quantity >= 0),
  place_id uuid,
  witness text,
  -- what it recorded in the ledger: the discard, the move into quarantine, the use, the return
  entry_fact_id uuid,
  note text,
  constraint recall_response_line_pkey primary key (group_id, response_id, line_no),
  constraint recall_response_line_response_fkey foreign key (group_id, response_id) references recall_response (group_id, response_id),
  constraint recall_response_line_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint recall_response_line_witness check (outcome <> 'destroyed' or witness is not null)
);
create index recall_response_line_lot_idx on recall_response_line (lot_id, group_id);
select protect_group_table('recall_response_line');
grant select, insert on recall_response_line to sealtrail_app;

-- Was the site reached, and did it do as asked (effectiveness check)?
create table recall_check (
  group_id uuid not null references groups (group_id),
  check_id uuid not null,
  check_no bigint not null generated always as identity,
  recall_id uuid not null,
  site_id uuid not null,
  method text not null,
  effective boolean not null,
  checked_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  note text,
  constraint recall_check_pkey primary key (group_id, check_id),
  constraint recall_check_recall_fkey foreign key (group_id, recall_id) references recall (group_id, recall_id),
  constraint recall_check_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);
create index recall_check_recall_idx on recall_check (recall_id, group_id);
select protect_group_table('recall_check');
grant select, insert on recall_check to sealtrail_app;

-- Closed, or open again; turn_no counts both, and the newest says which.
create table recall_turn (
  group_id uuid not null references groups (group_id),
  recall_id uuid not null,
  turn_no integer not null check (turn_no > 0),
  turn_id uuid not null,
  kind text not null check (kind in ('closed', 'reopened')),
  turned_at timestamptz not null,
  turned_by uuid not null,
  turned_deputy_id uuid,
  note text not null,
  -- as they stood at that moment
  figures jsonb not null,
  constraint recall_turn_pkey primary key (group_id, recall_id, turn_no),
  constraint recall_turn_id_key unique (turn_id, group_id),
  constraint recall_turn_recall_fkey foreign key (group_id, recall_id) references recall (group_id, recall_id)
);
select protect_group_table('recall_turn');
grant select, insert on recall_turn to sealtrail_app;
