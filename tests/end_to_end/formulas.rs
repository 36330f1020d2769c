//! The formulas that the tests work with.

use serde_json::{Value, json};

/// An oil in which dried calendula was macerated: 100 g in 1000 g, 850 g pressed out.
pub(crate) fn infused_oil() -> Value {
    json!({
        "title": "Infused oil of calendula", "preparation": "infused oil", "route": "on intact skin, leave-on",
        "regime": "cosmetic", "yield": "850 g",
        "phases": [{ "name": "maceration", "lines": [
            { "material": "dried calendula flower", "amount": "100 g", "function": "active" },
            { "material": "olive oil", "amount": "1000 g", "function": "vehicle" } ] }],
        "method": [
            { "do": "Cover the flowers with the oil and keep it warm", "phase": "maceration", "temperature": "45 C at most" },
            { "do": "Strain and press", "hold": true } ],
        "cautions": [{ "level": "caution", "text": "For external use only." }]
    })
}

/// A cream with an emulsifying wax and a preservative, made from the infused oil.
pub(crate) fn cream() -> Value {
    json!({
        "title": "Calendula cream", "preparation": "cream", "route": "on intact skin, leave-on",
        "regime": "cosmetic", "yield": "about 1000 g",
        "phases": [
            { "name": "oil phase", "lines": [
                { "material": "emulsifying wax", "amount": "80 g", "function": "emulsifier" },
                { "formula": "Infused oil of calendula", "amount": "300 g", "function": "vehicle" } ] },
            { "name": "water phase", "lines": [
                { "material": "potassium sorbate", "amount": "0.4 %", "function": "preservative" },
                { "material": "purified water", "amount": "q.s. 1000 g", "function": "vehicle" } ] } ],
        "method": [
            { "do": "Melt the wax in the oil over hot water", "phase": "oil phase", "temperature": "70 C at most" },
            { "do": "Add the water phase slowly, stirring without pause", "temperature": "70 C, phases within 5 C", "hold": true } ],
        "cautions": [{ "level": "caution", "text": "For external use only." }],
        "label": { "directions": "Apply thinly to intact skin.", "storage": "Keep cool.", "container": "dark glass jar" }
    })
}
