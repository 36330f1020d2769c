//! Which cases a caller may see.

/// Whether every report of a case `c`, or of the case that it was joined to, is about a jar of a library that the caller,
/// `$1`, is a member of.
pub(crate) const VISIBLE: &str = "NOT EXISTS (
    SELECT FROM reaction_report p JOIN jar j ON j.id = p.jar_id JOIN batch b ON b.id = j.batch_id
    JOIN revision r ON r.id = b.revision_id JOIN formula f ON f.id = r.formula_id
    WHERE p.case_id = coalesce(c.joined_id, c.id) AND NOT EXISTS (
        SELECT FROM library_member m WHERE m.library_id = f.library_id AND m.holder_id = $1))";
