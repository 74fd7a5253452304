drop table audit_heads, audit_rows, sign_in_failures, sessions, users, sites;
drop function make_append_only(regclass);
drop function forbid_change();
