DROP TABLE idempotency;
DROP TABLE attempt;
DROP TABLE api_client;
DROP TABLE refresh_token;
DROP TABLE session;
DROP TABLE one_time_code;
DROP TABLE credential;
DROP TABLE person;
DROP TABLE principal;
-- The role stays: it belongs to the cluster and another database may use it.
REVOKE USAGE ON SCHEMA public FROM stillroom_service;
