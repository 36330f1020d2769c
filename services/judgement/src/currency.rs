//! Minor units of currencies (ISO 4217).

/// Currencies whose minor unit is not a hundredth, with the number of decimals.
const OTHER_THAN_TWO: [(&str, u32); 23] = [
    ("BIF", 0),
    ("CLP", 0),
    ("DJF", 0),
    ("GNF", 0),
    ("ISK", 0),
    ("JPY", 0),
    ("KMF", 0),
    ("KRW", 0),
    ("PYG", 0),
    ("RWF", 0),
    ("UGX", 0),
    ("VND", 0),
    ("VUV", 0),
    ("XAF", 0),
    ("XOF", 0),
    ("XPF", 0),
    ("BHD", 3),
    ("IQD", 3),
    ("JOD", 3),
    ("KWD", 3),
    ("LYD", 3),
    ("OMR", 3),
    ("TND", 3),
];

/// The number of decimals of a currency, by its ISO 4217 code; 2 for every code not listed.
#[must_use]
pub fn minor_digits(currency: &str) -> u32 {
    OTHER_THAN_TWO.iter().find(|(code, _)| *code == currency).map_or(2, |(_, digits)| *digits)
}
