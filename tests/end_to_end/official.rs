//! Official and household formulas as real input.
