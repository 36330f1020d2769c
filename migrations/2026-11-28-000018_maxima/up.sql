-- A formula has at most 200 lines over all its phases, and so at most 200 phases (`galenics::maxima::LINES`). The sum over
-- phases is held where formulas are saved; what one row can say is held here too.
ALTER TABLE revision_ingredient
    ADD CONSTRAINT revision_ingredient_maxima CHECK (phase <= 200 AND line <= 200);
