//! Who may do what: every operation, role, ownership and state in one table.
