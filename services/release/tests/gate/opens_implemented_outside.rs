//! A proof of one's own.

struct Mine;

impl release::Opens for Mine {}

fn main() {}
