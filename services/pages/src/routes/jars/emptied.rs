//! Jars whose content was filled into others, in words.

use wire::jars::Jar;

use crate::texts::t1;

/// Numbers of jars, as they are read.
pub(super) fn numbers(of: &[u32]) -> String {
    of.iter().map(u32::to_string).collect::<Vec<_>>().join(", ")
}

/// That a jar was filled from another, for the list.
pub(super) fn from(jar: &Jar) -> String {
    match (jar.decanted_from, jar.decanted_into.as_slice()) {
        (_, into @ [_, ..]) => t1("decant-is-empty", numbers(into)),
        (Some(from), _) => t1("decant-is-from", i64::from(from)),
        _ => String::new(),
    }
}
