//! The migrations are built into the binary; a new one must rebuild it.

fn main() {
    println!("cargo:rerun-if-changed=../../migrations");
}
