//! The reference data of the trade and its typed reader.
