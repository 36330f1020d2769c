//! The gate is a type: outside this crate nothing makes what it releases, proves what it proves or names its tables, and
//! no proof outlives its transaction or serves in another. Each file in `gate` tries one way and must not compile; the
//! compiler's reason is beside it. After a change: `TRYBUILD=overwrite cargo test -p release --test gate`, and read the
//! reasons. What a crate that answers requests might try is in the tests of `clinic`.

/// What is released is for sending.
#[test]
fn what_is_released_can_be_sent_and_nothing_else() {
    fn sent<T: serde::Serialize>() {}
    sent::<release::ReleasedRecipe>();

    let cases = trybuild::TestCases::new();
    cases.compile_fail("tests/gate/*.rs");
}
