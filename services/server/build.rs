//! The migrations are built into the binary; a new one must rebuild it.

#[expect(clippy::print_stdout, reason = "this is how a build script speaks to cargo")]
fn main() {
    println!("cargo:rerun-if-changed=../../migrations");
}
