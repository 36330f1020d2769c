DROP TRIGGER countersignature_holds ON countersignature;
DROP FUNCTION countersignature_holds();
DROP TRIGGER release_grant_holds ON release_grant;
DROP FUNCTION release_grant_holds();
