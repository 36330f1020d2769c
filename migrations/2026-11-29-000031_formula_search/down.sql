DROP INDEX revision_approved_regime;
DROP INDEX formula_library_kind;
DROP INDEX formula_title_trigrams;
