//! Signing in, refreshing, signing out, and what a changed account means at once.
