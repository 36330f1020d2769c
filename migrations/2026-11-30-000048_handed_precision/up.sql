-- How closely a record that was handed in follows its recipe: relative errors, and no amount. Of each weighed line how far
-- it is off its target, and the yield, as shares. Records from before have none.
CREATE TABLE handed_precision (
    handed_id uuid PRIMARY KEY REFERENCES handed_work (id),
    deviations numeric[] NOT NULL,
    yield_share numeric,
    -- nobody weighs less than nothing
    CONSTRAINT handed_precision_deviations CHECK (-1 <= ALL (deviations) AND array_position(deviations, NULL) IS NULL),
    CONSTRAINT handed_precision_yield CHECK (yield_share >= 0),
    -- to a hundredth of a per cent, so that no share tells an amount
    CONSTRAINT handed_precision_coarse CHECK (scale(yield_share) <= 4 AND deviations::numeric(28, 4)[] = deviations)
);

GRANT SELECT, INSERT ON handed_precision TO stillroom_service;
