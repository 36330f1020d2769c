//! Text in columns.

/// Lays rows out under their headings, two spaces apart. A column without any entry is left out.
pub(crate) fn table(headings: &[&str], rows: &[Vec<String>]) -> String {
    let cell = |row: &Vec<String>, column: usize| row.get(column).cloned().unwrap_or_default();
    let columns: Vec<(usize, usize)> = headings
        .iter()
        .enumerate()
        .filter_map(|(column, heading)| {
            let widest =
                rows.iter().map(|row| width(&cell(row, column))).max().filter(|widest| *widest > 0)?;
            Some((column, widest.max(width(heading))))
        })
        .collect();
    let heading = headings.iter().map(|heading| (*heading).to_owned()).collect();
    let mut out = String::new();
    for row in std::iter::once(&heading).chain(rows) {
        let mut line = String::new();
        for (column, wide) in &columns {
            let text = cell(row, *column);
            line.push_str("  ");
            line.push_str(&text);
            line.push_str(&" ".repeat(wide - width(&text)));
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// Pads decimals so that their points stand one under the other; an entry that does not begin with a digit, or
/// is empty, stays as it is. What follows the number (its unit) starts in one column.
pub(crate) fn point_under_point(entries: &[String]) -> Vec<String> {
    let parts: Vec<Option<(&str, &str, &str)>> = entries.iter().map(|entry| split(entry)).collect();
    let whole = parts.iter().flatten().map(|(whole, ..)| width(whole)).max().unwrap_or_default();
    let fraction = parts.iter().flatten().map(|(_, fraction, _)| width(fraction)).max().unwrap_or_default();
    entries
        .iter()
        .zip(parts)
        .map(|(entry, parts)| match parts {
            Some((before, after, unit)) => format!("{before:>whole$}{after:<fraction$}{unit}"),
            None => entry.clone(),
        })
        .collect()
}

/// `12.5 g` is `12`, `.5` and ` g`.
fn split(entry: &str) -> Option<(&str, &str, &str)> {
    if !entry.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let (number, unit) = entry.split_at(entry.find(' ').unwrap_or(entry.len()));
    let (whole, fraction) = number.split_at(number.find('.').unwrap_or(number.len()));
    Some((whole, fraction, unit))
}

fn width(text: &str) -> usize {
    text.chars().count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_stand_under_points() {
        let entries = ["112.5 g", "30 g", "unknown: density of honey", "0.25 g", ""].map(str::to_owned);
        assert_eq!(
            point_under_point(&entries),
            ["112.5  g", " 30    g", "unknown: density of honey", "  0.25 g", ""]
        );
    }

    #[test]
    fn an_empty_column_is_left_out() {
        let rows = [vec!["1.1".to_owned(), String::new(), "wax".to_owned()], vec!["1.2".to_owned()]];
        assert_eq!(table(&["line", "measure", "name"], &rows), "  line  name\n  1.1   wax\n  1.2\n");
    }
}
