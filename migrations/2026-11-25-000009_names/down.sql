REVOKE DELETE ON material_synonym FROM stillroom_service;
