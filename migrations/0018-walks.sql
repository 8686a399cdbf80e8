-- Walks with quantities over tens of thousands of lots, read from indexes alone.

-- Most lots at the end of a walk are packs that nothing was made from; three of four look-ups of a walk found nothing. An edge therefore
-- says whether its child has children of its own. False is a promise, true is not: an edge that was taken back leaves it true.
-- addEdges keeps it. Only an input to a lot that has children already could miss one, and that takes the gate exclusively.
alter table lot_edge add column child_leads_on boolean not null default true;

alter table lot_edge no force row level security;
update lot_edge le
   set child_leads_on = exists (select from lot_edge x where x.group_id = le.group_id and x.parent_lot_id = le.child_lot_id);
alter table lot_edge force row level security;
create index lot_edge_walk_idx on lot_edge (parent_lot_id, group_id, child_lot_id) include (child_leads_on);
grant update (child_leads_on) on lot_edge to sealtrail_app;

-- Which item each lot of a scope is of.
create index lot_of_item_idx on lot (lot_id, group_id) include (item_id);

-- The quantity in the key's index: reading what became of a scope needs no visit to the rows. It costs writes nothing but its eight bytes,
-- since a change of quantity had to renew every index entry of the row before (balance_account_idx holds it as well).
alter table balance drop constraint balance_pkey;
alter table balance add constraint balance_pkey primary key (group_id, lot_id, account_id) include (quantity);

-- Lots of which something went back to a supplier. It is a line of its own in every trace, and a balance does not tell it from the delivery.
alter table lot_state add column given_back boolean not null default false;
alter table lot_state no force row level security;
alter table posting no force row level security;
alter table entry no force row level security;
alter table account no force row level security;
update lot_state s set given_back = true
  from posting p
  join entry e on e.group_id = p.group_id and e.seq = p.seq and e.kind = 'return'
  join account a on a.group_id = p.group_id and a.account_id = p.to_account_id and a.kind = 'supplier'
 where p.group_id = s.group_id and p.lot_id = s.lot_id;
alter table lot_state force row level security;
alter table posting force row level security;
alter table entry force row level security;
alter table account force row level security;
create index lot_state_given_back_idx on lot_state (lot_id, group_id) where given_back;
