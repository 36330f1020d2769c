//! Conversion of material entries between `wire` and `materia`, without loss. Texts of requests are normalised to
//! Unicode form C.

use canonical::nfc;
use materia::{Entry, EntryCaution, EntryConstituent};
use wire::materials as travels;

fn given(text: &Option<String>) -> Option<String> {
    text.as_deref().map(nfc)
}

fn list(texts: &[String]) -> Vec<String> {
    texts.iter().map(|text| nfc(text)).collect()
}

/// Converts an entry of a request.
#[must_use]
pub fn entry_in(entry: &travels::MaterialEntry) -> Entry {
    let travels::MaterialEntry {
        name,
        kind,
        synonyms,
        inci,
        botanical_name,
        botanical_author,
        family,
        part,
        state,
        density_g_per_ml,
        density_at_celsius,
        water_percent,
        fresh_water_percent,
        dried_water_percent,
        ethanol_percent_by_volume,
        drops_per_ml,
        hlb,
        required_hlb,
        allergy_groups,
        pregnancy,
        breast_feeding,
        constituents,
        cautions,
        source,
        status,
    } = entry;
    Entry {
        name: nfc(name),
        kind: nfc(kind),
        synonyms: list(synonyms),
        inci: given(inci),
        botanical_name: given(botanical_name),
        botanical_author: given(botanical_author),
        family: given(family),
        part: given(part),
        state: given(state),
        density_g_per_ml: given(density_g_per_ml),
        density_at_celsius: given(density_at_celsius),
        water_percent: given(water_percent),
        fresh_water_percent: given(fresh_water_percent),
        dried_water_percent: given(dried_water_percent),
        ethanol_percent_by_volume: given(ethanol_percent_by_volume),
        drops_per_ml: given(drops_per_ml),
        hlb: given(hlb),
        required_hlb: given(required_hlb),
        allergy_groups: list(allergy_groups),
        pregnancy: given(pregnancy),
        breast_feeding: given(breast_feeding),
        constituents: constituents.iter().map(constituent_in).collect(),
        cautions: cautions.iter().map(caution_in).collect(),
        source: nfc(source),
        status: nfc(status),
    }
}

/// Converts an entry for an answer.
#[must_use]
pub fn entry_out(entry: Entry) -> travels::MaterialEntry {
    let Entry {
        name,
        kind,
        synonyms,
        inci,
        botanical_name,
        botanical_author,
        family,
        part,
        state,
        density_g_per_ml,
        density_at_celsius,
        water_percent,
        fresh_water_percent,
        dried_water_percent,
        ethanol_percent_by_volume,
        drops_per_ml,
        hlb,
        required_hlb,
        allergy_groups,
        pregnancy,
        breast_feeding,
        constituents,
        cautions,
        source,
        status,
    } = entry;
    travels::MaterialEntry {
        name,
        kind,
        synonyms,
        inci,
        botanical_name,
        botanical_author,
        family,
        part,
        state,
        density_g_per_ml,
        density_at_celsius,
        water_percent,
        fresh_water_percent,
        dried_water_percent,
        ethanol_percent_by_volume,
        drops_per_ml,
        hlb,
        required_hlb,
        allergy_groups,
        pregnancy,
        breast_feeding,
        constituents: constituents.into_iter().map(constituent_out).collect(),
        cautions: cautions.into_iter().map(caution_out).collect(),
        source,
        status,
    }
}

fn constituent_in(held: &travels::EntryConstituent) -> EntryConstituent {
    let travels::EntryConstituent { substance, low_percent, high_percent } = held;
    EntryConstituent {
        substance: nfc(substance),
        low_percent: nfc(low_percent),
        high_percent: nfc(high_percent),
    }
}

fn constituent_out(held: EntryConstituent) -> travels::EntryConstituent {
    let EntryConstituent { substance, low_percent, high_percent } = held;
    travels::EntryConstituent { substance, low_percent, high_percent }
}

fn caution_in(caution: &travels::EntryCaution) -> EntryCaution {
    let travels::EntryCaution { level, audiences, text } = caution;
    EntryCaution { level: nfc(level), audiences: list(audiences), text: nfc(text) }
}

fn caution_out(caution: EntryCaution) -> travels::EntryCaution {
    let EntryCaution { level, audiences, text } = caution;
    travels::EntryCaution { level, audiences, text }
}
