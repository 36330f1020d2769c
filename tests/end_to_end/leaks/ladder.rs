//! A ladder: a reader chooses a number, asks, and looks at where the answer changes.

/// What a ladder came to.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Learned {
    /// Every answer was the same: the reader knows what was known before.
    Nothing,
    /// The answer changes between these two numbers.
    Between(f64, f64),
}

impl Learned {
    /// Whether a number was found to one part in so many.
    pub(super) fn found(&self, secret: f64, precision: f64) -> bool {
        match self {
            Self::Nothing => false,
            Self::Between(low, high) => {
                *low <= secret && secret <= *high && (high - low) / secret <= 1.0 / precision
            }
        }
    }
}

/// Asks on every rung between two numbers, then halves the first interval on which the answer changed. `ask` answers what
/// the reader sees, without what they typed.
pub(super) async fn climb(low: f64, high: f64, rungs: u32, ask: impl AsyncFn(f64) -> String) -> Learned {
    let step = (high - low) / f64::from(rungs);
    let mut below = (low, ask(low).await);
    for rung in 1..=rungs {
        let at = low + step * f64::from(rung);
        let answer = ask(at).await;
        if answer == below.1 {
            below = (at, answer);
            continue;
        }
        let (mut under, mut over) = (below.0, at);
        for _ in 0..12 {
            let middle = f64::midpoint(under, over);
            if ask(middle).await == below.1 {
                under = middle;
            } else {
                over = middle;
            }
        }
        return Learned::Between(under, over);
    }
    Learned::Nothing
}

#[tokio::test]
async fn a_ladder_finds_a_number_at_which_the_answer_changes_and_none_where_it_does_not() {
    let told = climb(0.0, 100.0, 5, async |at| (at < 37.31).to_string()).await;
    assert!(told.found(37.31, 1000.0), "{told:?}");
    assert!(!told.found(38.0, 1000.0), "{told:?}");
    let untold = climb(0.0, 100.0, 5, async |_| "the same".to_owned()).await;
    assert_eq!(untold, Learned::Nothing);
}
