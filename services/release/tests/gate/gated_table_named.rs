//! The content's table, reached past the gate.

fn main() {
    let _ = release::gated::revision_content::table;
}
