//! The state of a record that was looked up for a reader, made by hand.

use release::lookup::RecordSeen;

fn main() {
    let _ = RecordSeen { state: [0; 32], every_level: true };
}
