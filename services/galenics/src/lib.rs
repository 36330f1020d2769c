//! The calculations of the trade: pure functions, no input or output.
