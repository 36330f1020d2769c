//! A control chart as a drawing: points in the order of their time between the lines of their limits. What is beyond a limit has
//! another shape, and the sentence and the table beside it say the same.

use wire::teaching::ControlChart;

use crate::texts::{t, t1, t2, t3};

/// The room of the points, of the 300 that a drawing is wide in its own units. Right of them stand the figures of the lines.
const POINTS_TO: f64 = 240.0;
const MARGIN: f64 = 12.0;
/// The least between two figures.
const APART: f64 = 15.0;

/// A line across the drawing.
pub(crate) struct Line {
    pub(crate) path: String,
    pub(crate) class: &'static str,
}

/// A figure at the right of a line.
pub(crate) struct Label {
    pub(crate) y: String,
    pub(crate) text: String,
}

/// One of the two drawings of a chart.
pub(crate) struct Drawing {
    pub(crate) high: u32,
    /// From point to point.
    pub(crate) run: String,
    /// Points within the limits, by their places.
    pub(crate) dots: Vec<(String, String)>,
    /// Points beyond them, as paths.
    pub(crate) beyond: Vec<String>,
    pub(crate) lines: Vec<Line>,
    pub(crate) labels: Vec<Label>,
    /// What it shows, in a sentence.
    pub(crate) says: String,
}

/// A line of the table.
pub(crate) struct Row {
    pub(crate) batch: String,
    pub(crate) value: String,
    pub(crate) range: String,
    pub(crate) beyond: String,
}

/// A chart with both drawings, its sentences and its table.
pub(crate) struct Chart {
    pub(crate) id: &'static str,
    pub(crate) title: String,
    pub(crate) says: Vec<String>,
    pub(crate) drawings: Vec<Drawing>,
    pub(crate) rows: Vec<Row>,
}

/// A value with whether it is beyond.
type Point = (f64, bool);

/// A chart under a name in the page.
pub(crate) fn chart(id: &'static str, title: String, of: &ControlChart) -> Chart {
    let mut says = Vec::new();
    if of.points.is_empty() {
        says.push(t("chart-none"));
    }
    let count = |number: usize| i64::try_from(number).unwrap_or(i64::MAX);
    if let Some(limits) = &of.limits {
        says.push(t3("chart-says", limits.mean.clone(), limits.lower.clone(), limits.upper.clone()));
        says.push(t2("chart-range-says", limits.mean_range.clone(), limits.range_upper.clone()));
        let beyond = of
            .points
            .iter()
            .filter(|point| point.beyond == Some(true) || point.range_beyond == Some(true))
            .count();
        says.push(t1("chart-beyond-count", count(beyond)));
    } else if !of.points.is_empty() {
        says.extend(of.why_not.clone());
    }
    let mut drawings = Vec::new();
    if of.points.len() > 1 {
        let values: Vec<Point> =
            of.points.iter().map(|point| (number(&point.percent), point.beyond == Some(true))).collect();
        let lines = of
            .limits
            .iter()
            .flat_map(|limits| [("limit", &limits.upper), ("mean", &limits.mean), ("limit", &limits.lower)]);
        drawings.push(drawn(&values, &lines.collect::<Vec<_>>(), 180, t("chart-values")));
        let ranges = of
            .points
            .iter()
            .filter_map(|point| Some((point.range_percent.as_ref()?, point.range_beyond == Some(true))));
        let ranges: Vec<Point> = ranges.map(|(range, beyond)| (number(range), beyond)).collect();
        let lines = of
            .limits
            .iter()
            .flat_map(|limits| [("limit", &limits.range_upper), ("mean", &limits.mean_range)]);
        drawings.push(drawn(&ranges, &lines.collect::<Vec<_>>(), 120, t("chart-ranges")));
    }
    let rows = of.points.iter().map(|point| Row {
        batch: point.batch_number.clone(),
        value: t1("percent-of", point.percent.clone()),
        range: point.range_percent.clone().map(|range| t1("percent-of", range)).unwrap_or_default(),
        beyond: match (point.beyond, point.range_beyond) {
            (Some(true), _) => t("chart-beyond"),
            (_, Some(true)) => t("chart-range-beyond"),
            _ => String::new(),
        },
    });
    Chart { id, title, says, drawings, rows: rows.collect() }
}

/// A figure that the service wrote.
fn number(text: &str) -> f64 {
    text.parse().unwrap_or_default()
}

fn drawn(points: &[Point], lines: &[(&'static str, &String)], high: u32, says: String) -> Drawing {
    let lines: Vec<(&'static str, f64)> = lines.iter().map(|(class, at)| (*class, number(at))).collect();
    let all = || points.iter().map(|point| point.0).chain(lines.iter().map(|line| line.1));
    let (low, top) = (all().fold(f64::INFINITY, f64::min), all().fold(f64::NEG_INFINITY, f64::max));
    let room = f64::from(high) - 2.0 * MARGIN;
    // Values that are all alike lie in the middle.
    let y = |value: f64| {
        let share = if top > low { (top - value) / (top - low) } else { 0.5 };
        MARGIN + share * room
    };
    let steps = f64::from(u32::try_from(points.len().saturating_sub(1)).unwrap_or(u32::MAX).max(1));
    let x = |place: usize| {
        let place = f64::from(u32::try_from(place).unwrap_or(u32::MAX));
        MARGIN + place / steps * (POINTS_TO - 2.0 * MARGIN)
    };
    let places: Vec<(f64, f64, bool)> =
        points.iter().enumerate().map(|(place, point)| (x(place), y(point.0), point.1)).collect();
    let run: Vec<String> = places.iter().map(|(x, y, _)| format!("{x:.1} {y:.1}")).collect();
    let dots = places.iter().filter(|place| !place.2).map(|(x, y, _)| (format!("{x:.1}"), format!("{y:.1}")));
    let beyond = places.iter().filter(|place| place.2).map(|(x, y, _)| {
        let (left, right, above, below) = (x - 6.0, x + 6.0, y - 6.0, y + 6.0);
        format!("M{left:.1} {y:.1}L{x:.1} {above:.1}L{right:.1} {y:.1}L{x:.1} {below:.1}Z")
    });
    let across =
        lines.iter().map(|(class, at)| Line { path: format!("M0 {:.1}H{POINTS_TO}", y(*at)), class });
    // Without limits the highest and the lowest value give the measure.
    let marked: Vec<f64> =
        if lines.is_empty() { vec![top, low] } else { lines.iter().map(|line| line.1).collect() };
    let mut labels: Vec<(f64, String)> = Vec::new();
    for value in marked {
        let at = y(value);
        if labels.iter().all(|(other, _)| (other - at).abs() >= APART) {
            labels.push((at, format!("{value:.2}")));
        }
    }
    Drawing {
        high,
        run: format!("M{}", run.join("L")),
        dots: dots.collect(),
        beyond: beyond.collect(),
        lines: across.collect(),
        labels: labels.into_iter().map(|(at, text)| Label { y: format!("{:.1}", at + 5.0), text }).collect(),
        says,
    }
}

#[cfg(test)]
mod tests {
    use chrono::DateTime;
    use wire::ids::WorkSubmissionId;
    use wire::teaching::{ControlLimits, ControlPoint};

    use super::*;

    fn point(percent: &str, beyond: bool) -> ControlPoint {
        ControlPoint {
            submission: WorkSubmissionId(uuid::Uuid::nil()),
            batch_number: "2026-0001".into(),
            handed_in_at: DateTime::UNIX_EPOCH,
            percent: percent.into(),
            beyond: Some(beyond),
            range_percent: Some("0.50".into()),
            range_beyond: Some(false),
        }
    }

    #[test]
    fn what_is_beyond_has_another_shape_and_a_word() {
        let limits = ControlLimits {
            mean: "0.00".into(),
            lower: "-1.00".into(),
            upper: "1.00".into(),
            mean_range: "0.38".into(),
            range_upper: "1.23".into(),
        };
        let points = vec![point("0.10", false), point("4.00", true), point("-0.20", false)];
        let chart =
            chart("w", "Weighing".into(), &ControlChart { points, limits: Some(limits), why_not: None });
        let values = &chart.drawings[0];
        assert_eq!((values.dots.len(), values.beyond.len(), values.lines.len()), (2, 1, 3));
        assert_eq!(chart.rows[1].beyond, t("chart-beyond"));
        // The highest value stands at the top, inside of the drawing.
        assert!(values.beyond[0].contains(&format!("{:.1}", MARGIN)), "{}", values.beyond[0]);
    }

    #[test]
    fn one_point_is_told_and_not_drawn_and_alike_ones_lie_in_the_middle() {
        let of = |points| {
            chart("w", String::new(), &ControlChart { points, limits: None, why_not: Some("Few.".into()) })
        };
        let one = of(vec![point("0.10", false)]);
        assert!(one.drawings.is_empty() && one.rows.len() == 1 && one.says == ["Few."]);
        let alike = of(vec![point("0.10", false), point("0.10", false)]);
        assert_eq!(alike.drawings[0].dots[0].1, "90.0");
        assert_eq!(alike.drawings[0].labels.len(), 1);
        assert_eq!(of(Vec::new()).says, [t("chart-none")]);
    }
}
