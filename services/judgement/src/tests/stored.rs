//! Formulas from before the stored types existed. They must stay readable and keep their digests.

use canonical::{Form, Salt};
use wire::formulary::FormulaContent;

use crate::Written;
use crate::written::Content;

const SALT: Salt = [7; 16];

/// A formula with every field and one with as few as there can be: the stored text, and its digest in either form, as
/// another tool (hashlib) computes it.
const STORED: [(&str, [&str; 2]); 2] = [
    (
        include_str!("stored/full.json"),
        [
            "efc731d9f84dc168e08c51cfc026ff130b3b04db00f2caa8f6a85d110fdd7267",
            "195b35db4961b49f8f3d5261e39db0a41f5c095330cb48be49000d330d2e203c",
        ],
    ),
    (
        include_str!("stored/minimal.json"),
        [
            "525f5179bb864e27de5c6359b5f0404bb974e8021c1cd6381910003f1035fd2a",
            "38cbed24d9bd709a8571d3b937c2b7f8fab29b3a938905f3bf8913061fea8aa8",
        ],
    ),
];

fn read(text: &str) -> Written {
    serde_json::from_str(text).unwrap()
}

#[test]
fn a_stored_formula_is_written_again_byte_for_byte() {
    for (text, _) in STORED {
        assert_eq!(serde_json::to_string(&read(text)).unwrap(), text.trim_end());
    }
}

#[test]
fn a_stored_formula_keeps_its_digest_in_either_form() {
    for (text, digests) in STORED {
        let value = serde_json::to_value(read(text)).unwrap();
        let found = [Form::One, Form::Two].map(|form| hex(&form.salted(&value, &SALT)));
        assert_eq!(found, digests);
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn a_stored_formula_travels_and_comes_back_the_same() {
    for (text, _) in STORED {
        let content = read(text).content;
        let travels = FormulaContent::from(content.clone());
        assert_eq!(Content::from(&travels), content);
    }
}

#[test]
fn text_is_stored_in_normalisation_form_c() {
    let mut travels = FormulaContent::from(read(STORED[0].0).content);
    travels.title = "Cre\u{300}me".to_owned();
    travels.phases[0].lines[0].amount = "80 g\u{301}".to_owned();
    travels.label.storage = "au re\u{301}frige\u{301}rateur".to_owned();
    let content = Content::from(&travels);
    assert_eq!(content.title, "Cr\u{e8}me");
    assert_eq!(content.phases[0].lines[0].amount, "80 \u{1f5}");
    assert_eq!(content.label.storage, "au r\u{e9}frig\u{e9}rateur");
}
