DROP TABLE sign_off_revocation;
DROP TABLE sign_off;
DROP FUNCTION sign_off_holds();
DROP FUNCTION sign_off_is_the_only_one();
DROP TABLE competency;
