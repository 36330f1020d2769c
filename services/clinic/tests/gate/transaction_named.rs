//! A transaction, in which a handler could ask the database itself.

use clinic::Tx;

fn main() {}
