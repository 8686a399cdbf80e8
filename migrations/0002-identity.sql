-- People, what they may do where, and devices.

create table person (
  group_id uuid not null references groups (group_id),
  person_id uuid not null,
  name text not null,
  sign_in_name text not null,
  active boolean not null default true,
  version integer not null default 1,
  constraint person_pkey primary key (group_id, person_id),
  constraint person_sign_in_name_code_key unique (group_id, sign_in_name)
);
select protect_group_table('person');
grant select, insert on person to sealtrail_app;
grant update (name, active, version) on person to sealtrail_app;

create table person_credential (
  group_id uuid not null,
  person_id uuid not null,
  password_hash text not null,
  failed_count integer not null default 0,
  locked_until timestamptz,
  constraint person_credential_pkey primary key (group_id, person_id),
  constraint person_credential_person_fkey foreign key (group_id, person_id) references person (group_id, person_id)
);
select protect_group_table('person_credential');
grant select, insert, update on person_credential to sealtrail_app;

-- site_id null: every site of the group
create table person_grant (
  group_id uuid not null,
  person_id uuid not null,
  grant_no integer not null,
  role text not null,
  site_id uuid,
  constraint person_grant_pkey primary key (group_id, person_id, grant_no),
  constraint person_grant_person_fkey foreign key (group_id, person_id) references person (group_id, person_id)
);
select protect_group_table('person_grant');
grant select, insert, delete on person_grant to sealtrail_app;

-- Only the hash of a device's secret is kept; null until its token has been made.
create table device (
  group_id uuid not null references groups (group_id),
  device_id uuid not null,
  name text not null,
  site_id uuid not null,
  secret_hash bytea check (octet_length(secret_hash) = 32),
  active boolean not null default true,
  version integer not null default 1,
  constraint device_pkey primary key (group_id, device_id)
);
select protect_group_table('device');
grant select, insert on device to sealtrail_app;
grant update (name, active, secret_hash, version) on device to sealtrail_app;
