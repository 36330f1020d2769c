//! The questions that the calculators answer, with what the trade usually asks.

/// How a well is read.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A text that is needed.
    Text,
    /// A text that may be left out.
    Optional,
    /// Lines of amount and material.
    Lines,
    /// Lines of amount and strength.
    Portions,
    /// Lines of a text each.
    Texts,
    /// A whole number.
    Number,
    /// Lines of name; quantity; price; per.
    Draws,
}

/// One well: its name in the question, what the trade usually writes there, and how it is read.
pub(super) type Well = (&'static str, &'static str, Kind);

/// A question: its place in the address, the subject that answers it, the name that the subject knows it by, and its wells.
pub(super) struct Question {
    pub(super) slug: &'static str,
    pub(super) subject: &'static str,
    pub(super) within: &'static str,
    pub(super) wells: &'static [Well],
}

use Kind::{Draws, Lines, Number, Optional, Portions, Text, Texts};

pub(super) static QUESTIONS: &[Question] = &[
    Question {
        slug: "alcohol",
        subject: "alcohol",
        within: "dilution",
        wells: &[("wanted", "500 mL", Text), ("strength", "45 %", Text), ("stock", "96 %", Text)],
    },
    Question {
        slug: "alcohol-strength",
        subject: "alcohol",
        within: "strength",
        wells: &[("by_volume", "40 %", Optional), ("by_mass", "", Optional)],
    },
    Question {
        slug: "hydrometer",
        subject: "alcohol",
        within: "hydrometer",
        wells: &[("reading", "40 %", Text), ("temperature", "25 C", Text)],
    },
    Question {
        slug: "alcohol-mixture",
        subject: "alcohol",
        within: "mixture",
        wells: &[("streams", "200 mL 96 %\n300 mL 40 %", Portions)],
    },
    Question {
        slug: "extraction",
        subject: "extraction",
        within: "dried_equivalent",
        wells: &[
            ("extract", "100 mL", Text),
            ("ratio", "1:5", Text),
            ("convention", "drug to product, w/v", Text),
        ],
    },
    Question {
        slug: "herb-for-extract",
        subject: "extraction",
        within: "extract_for_dried",
        wells: &[
            ("herb", "20 g", Text),
            ("ratio", "1:5", Text),
            ("convention", "drug to product, w/v", Text),
        ],
    },
    Question {
        slug: "pressing",
        subject: "extraction",
        within: "pressed",
        wells: &[("herb", "100 g", Text), ("menstruum", "500 g", Text), ("pressed", "380 g", Text)],
    },
    Question {
        slug: "maceration",
        subject: "extraction",
        within: "maceration",
        wells: &[("herb", "100 g", Text), ("retained", "1.2", Text), ("turns", "500 g\n300 g", Texts)],
    },
    Question {
        slug: "fresh-herb",
        subject: "extraction",
        within: "fresh_menstruum",
        wells: &[
            ("herb", "100 g", Text),
            ("water", "80 %", Optional),
            ("menstruum", "200 g", Text),
            ("wanted", "40 %", Text),
        ],
    },
    Question {
        slug: "emulsion",
        subject: "emulsion",
        within: "required_hlb",
        wells: &[
            ("emulsion", "oil-in-water", Text),
            ("oils", "150 g sweet almond oil\n15 g white beeswax", Lines),
        ],
    },
    Question {
        slug: "emulsifiers",
        subject: "emulsion",
        within: "emulsifier_hlb",
        wells: &[("emulsifiers", "30 g polysorbate 80\n20 g sorbitan oleate", Lines)],
    },
    Question {
        slug: "emulsifier-blend",
        subject: "emulsion",
        within: "blend",
        wells: &[
            ("one", "15.0", Text),
            ("other", "4.3", Text),
            ("target", "10", Text),
            ("amount", "50 g", Optional),
        ],
    },
    Question {
        slug: "weighing",
        subject: "weighing",
        within: "least",
        wells: &[("readability", "0.1 g", Optional), ("error", "5 %", Text)],
    },
    Question {
        slug: "aliquot",
        subject: "weighing",
        within: "aliquot",
        wells: &[("wanted", "0.02 g", Text), ("least", "0.2 g", Text), ("aliquot", "1 g", Text)],
    },
    Question {
        slug: "strength",
        subject: "strength",
        within: "stock_dilution",
        wells: &[("wanted", "500 mL", Text), ("strength", "5 %", Text), ("stock", "20 %", Text)],
    },
    Question {
        slug: "alligation",
        subject: "strength",
        within: "alligation_alternate",
        wells: &[
            ("one", "10 %", Text),
            ("other", "2 %", Text),
            ("wanted", "5 %", Text),
            ("amount", "100 g", Optional),
        ],
    },
    Question {
        slug: "mixed-strength",
        subject: "strength",
        within: "alligation_medial",
        wells: &[("portions", "100 g 10 %\n50 g 2 %", Portions)],
    },
    Question {
        slug: "proportion",
        subject: "strength",
        within: "proportion",
        wells: &[("amount", "50 g", Text), ("whole", "1000 g", Text), ("part", "250 g", Text)],
    },
    Question {
        slug: "limits",
        subject: "skin_limits",
        within: "",
        wells: &[
            ("exposure", "leave-on", Text),
            ("lines", "1 % lavender oil\nq.s. 100 g olive oil", Lines),
            ("youngest", "", Optional),
            ("site", "", Optional),
        ],
    },
    Question {
        slug: "use-by",
        subject: "use_by",
        within: "",
        wells: &[
            ("made_on", "today", Text),
            ("preparation", "cream", Text),
            ("storage", "refrigerator", Text),
        ],
    },
    Question {
        slug: "cost",
        subject: "cost",
        within: "",
        wells: &[
            ("draws", "olive oil; 500 g; 12.50; 1 kg\nyellow beeswax; 100 g; 18; 1 kg", Draws),
            ("containers", "12", Number),
        ],
    },
    Question {
        slug: "dose",
        subject: "dose",
        within: "",
        wells: &[
            ("preparation", "tincture", Text),
            ("lines", "200 g dried calendula flower\n50 g ethanol 96 %\nq.s. 1000 g purified water", Lines),
            ("mass", "2 g", Text),
            ("times_a_day", "3", Number),
        ],
    },
    Question {
        slug: "units",
        subject: "quantity",
        within: "",
        wells: &[
            ("quantity", "1 cup", Text),
            ("to", "g", Text),
            ("density", "", Optional),
            ("material", "olive oil", Optional),
        ],
    },
];
