//! Planted amounts and method words, sought wherever the gate should have kept them.
