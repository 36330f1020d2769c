DROP TABLE sign_off_revocation;
DROP TABLE sign_off;
DROP FUNCTION sign_off_holds();
DROP TABLE competency;
