//! Many callers at one thing: one wins.
