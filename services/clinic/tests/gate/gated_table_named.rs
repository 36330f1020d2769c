//! The content's table, reached past the gate.

fn main() {
    let _ = clinic::safety::store::gated::revision_content::table;
}
