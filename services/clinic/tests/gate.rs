//! The gate is a type: outside the clinic's safety module there is no way to make what it releases, and outside the
//! crate none to copy, print, read back or take apart. Each file in `gate` tries one way and must not compile; the
//! compiler's reason is beside it. After a change: `TRYBUILD=overwrite cargo test -p clinic --test gate`, and read
//! the reasons.

/// What a release is for: it can be handed on and sent.
#[test]
fn what_is_released_can_be_sent_and_nothing_else() {
    fn sent<T: serde::Serialize>() {}
    sent::<clinic::ReleasedRecipe>();

    let cases = trybuild::TestCases::new();
    cases.compile_fail("tests/gate/*.rs");
}
