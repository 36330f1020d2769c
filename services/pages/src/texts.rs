//! The texts of the pages, in one file for each language. A page names a text; the words stand nowhere else.

use std::sync::LazyLock;

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use unic_langid::LanguageIdentifier;

/// English, the only language so far. Another one is another file, chosen by the person.
const ENGLISH: &str = include_str!("../texts/en.ftl");

static TEXTS: LazyLock<FluentBundle<FluentResource>> = LazyLock::new(|| {
    // What is wrong in the file is left out and shows as its name; a test reads the file strictly.
    let resource = FluentResource::try_new(ENGLISH.to_owned()).unwrap_or_else(|(readable, _)| readable);
    let mut bundle = FluentBundle::new_concurrent(vec![LanguageIdentifier::default()]);
    // The marks around inserted values are for mixed directions of writing, and would be copied with a code or a number.
    bundle.set_use_isolating(false);
    bundle.add_resource_overriding(resource);
    bundle
});

/// A text by its name; the name itself where there is none.
pub(crate) fn text(id: &str, values: &[(&str, FluentValue<'_>)]) -> String {
    let bundle = &*TEXTS;
    let Some(pattern) = bundle.get_message(id).and_then(|message| message.value()) else {
        return id.to_owned();
    };
    let mut arguments = FluentArgs::with_capacity(values.len());
    for (name, value) in values {
        arguments.set(*name, value.clone());
    }
    let mut errors = Vec::new();
    bundle.format_pattern(pattern, Some(&arguments), &mut errors).into_owned()
}

/// A text without values.
pub(crate) fn t(id: &str) -> String {
    text(id, &[])
}

/// A text with one value, which stands in it as `$a`.
pub(crate) fn t1<'v>(id: &str, a: impl Into<FluentValue<'v>>) -> String {
    text(id, &[("a", a.into())])
}

/// A text with two values, `$a` and `$b`.
pub(crate) fn t2<'v>(id: &str, a: impl Into<FluentValue<'v>>, b: impl Into<FluentValue<'v>>) -> String {
    text(id, &[("a", a.into()), ("b", b.into())])
}

/// A text with three values, `$a`, `$b` and `$c`.
pub(crate) fn t3<'v>(
    id: &str,
    a: impl Into<FluentValue<'v>>,
    b: impl Into<FluentValue<'v>>,
    c: impl Into<FluentValue<'v>>,
) -> String {
    text(id, &[("a", a.into()), ("b", b.into()), ("c", c.into())])
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::path::Path;

    use super::*;

    /// Every name of a text in the sources: the first argument of `t`, `t1`, `t2` and `t3`, or behind `text:`.
    fn named(text: &str) -> Vec<String> {
        // A call may begin its arguments on another line.
        let text = text.split("(\n").map(str::trim_start).collect::<Vec<_>>().join("(");
        let mut found = Vec::new();
        for call in ["t(\"", "t1(\"", "t2(\"", "t3(\"", "text(\"", "count(\""] {
            for (at, _) in text.match_indices(call) {
                let before = text[..at].chars().next_back().unwrap_or(' ');
                let name = text[at + call.len()..].split('"').next().unwrap();
                let is_name = name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
                // A field of a form is read by a method of the same name.
                let of_form = before == '.' && call == "text(\"";
                if !before.is_alphanumeric() && before != '_' && is_name && !of_form {
                    found.push(name.to_owned());
                }
            }
        }
        found
    }

    fn sources(folder: &Path, into: &mut Vec<String>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                sources(&path, into);
            } else {
                into.push(std::fs::read_to_string(&path).unwrap());
            }
        }
    }

    #[test]
    fn every_text_exists_and_is_used() {
        let resource = FluentResource::try_new(ENGLISH.to_owned()).expect("the file of texts can be read");
        let written: BTreeSet<String> = resource
            .entries()
            .filter_map(|entry| match entry {
                fluent_syntax::ast::Entry::Message(message) => Some(message.id.name.to_owned()),
                _ => None,
            })
            .collect();
        let messages = resource.entries().filter(|it| matches!(it, fluent_syntax::ast::Entry::Message(_)));
        assert_eq!(
            messages.count(),
            written.len(),
            "a text stands twice, and the second would take its place"
        );
        let mut all = Vec::new();
        sources(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/src")), &mut all);
        sources(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/templates")), &mut all);
        let used: BTreeSet<String> = all.iter().flat_map(|text| named(text)).collect();
        assert!(used.len() > 20, "the sources were not found");
        let missing: Vec<_> = used.difference(&written).collect();
        assert!(missing.is_empty(), "not in texts/en.ftl: {missing:?}");
        // Names that are put together from a word, such as `state-returned`, are used by their beginning.
        let beginnings: Vec<String> = all
            .iter()
            .flat_map(|text| {
                text.match_indices("word(\"")
                    .map(|(at, _)| text[at + 6..].split('"').next().unwrap().to_owned())
                    .collect::<Vec<_>>()
            })
            .collect();
        let unused: Vec<_> = written
            .difference(&used)
            .filter(|name| !beginnings.iter().any(|beginning| name.starts_with(&format!("{beginning}-"))))
            .collect();
        assert!(unused.is_empty(), "used nowhere: {unused:?}");
    }
}
