-- The defaults of the service's login. Postgres applies them to every connection of the login when it opens, so that they
-- hold behind a pooler in transaction mode too, where a SET of one caller would last for another.
-- `stillroom migrate` runs what is missing. By hand, as a superuser:
--   psql -v login=stillroom_app -f login.sql -d THE_DATABASE

-- The role that owns nothing and may do what the service does.
ALTER ROLE :"login" SET role = 'stillroom_service';
-- No statement, wait for a lock or forgotten transaction goes on for ever. Other times may be chosen, but not none.
ALTER ROLE :"login" SET statement_timeout = '10s';
ALTER ROLE :"login" SET lock_timeout = '5s';
ALTER ROLE :"login" SET idle_in_transaction_session_timeout = '30s';
-- How values become text, which digests are taken over.
ALTER ROLE :"login" SET datestyle = 'ISO, YMD';
ALTER ROLE :"login" SET intervalstyle = 'postgres';
ALTER ROLE :"login" SET timezone = 'UTC';
ALTER ROLE :"login" SET extra_float_digits = '1';
-- What the connections are called in Postgres' own views.
ALTER ROLE :"login" SET application_name = 'stillroom';
