//! A bar to scale in plain characters: `|====2210====|...787 save...|`.

use lengthwise::Length;

/// Columns between the two ends of the longest bar of a material.
pub const DRAWING: usize = 75;

/// A stretch of a bar, from left to right.
#[derive(Clone, Debug)]
pub struct Stretch {
    /// Where it ends, measured from the near end of the bar.
    pub end: Length,
    /// What fills it.
    pub fill: char,
    /// What it is called, the fullest form first; the first that fits is written into it.
    pub labels: Vec<String>,
}

/// Draws a bar at the scale at which `longest` takes [`DRAWING`] columns.
///
/// Ends are rounded to the nearest column; stretches thinner than a column fall together.
pub fn draw(stretches: &[Stretch], longest: Length) -> String {
    let mut line = vec!['|'];
    for stretch in stretches {
        let end = column(stretch.end, longest);
        // The line reaches column `line.len() - 1`; a stretch that ends there is too thin to show.
        let Some(inside) = end.checked_sub(line.len()) else {
            continue;
        };
        line.extend(labelled(stretch, inside));
        line.push('|');
    }
    line.into_iter().collect()
}

/// The column of a place on the bar, rounded to the nearest.
fn column(place: Length, longest: Length) -> usize {
    let (place, longest) = (i128::from(place.nm()), i128::from(longest.nm().max(1)));
    let columns = DRAWING as i128; // widening
    usize::try_from((2 * place * columns + longest) / (2 * longest)).unwrap_or(DRAWING)
}

fn labelled(stretch: &Stretch, width: usize) -> Vec<char> {
    let mut inside = vec![stretch.fill; width];
    // A blank on either side where the fill still shows: the eye finds the number sooner.
    let label = stretch
        .labels
        .iter()
        .find(|label| label.chars().count() <= width)
        .map(|label| match label.chars().count() + 4 <= width {
            true => format!(" {label} "),
            false => label.clone(),
        })
        .map(|label| label.chars().collect::<Vec<char>>());
    if let Some(label) = label {
        let before = (width - label.len()) / 2;
        for (place, c) in inside.iter_mut().skip(before).zip(label) {
            *place = c;
        }
    }
    inside
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stretch(end: u32, fill: char, labels: &[&str]) -> Stretch {
        Stretch {
            end: Length::from_mm(end),
            fill,
            labels: labels.iter().map(|&label| label.to_owned()).collect(),
        }
    }

    #[test]
    fn the_longest_bar_takes_the_whole_width() {
        let bar = [
            stretch(2210, '=', &["2210"]),
            stretch(3000, '.', &["787 save", "787"]),
        ];
        let line = draw(&bar, Length::from_mm(3000));
        assert_eq!(line.len(), DRAWING + 1);
        // 2210 / 3000 x 75 = 55.25, rounded to column 55.
        assert_eq!(
            line.match_indices('|')
                .map(|(at, _)| at)
                .collect::<Vec<_>>(),
            [0, 55, 75]
        );
        assert!(line.contains("= 2210 =") && line.contains(". 787 save ."));
    }

    #[test]
    fn thin_stretches_fall_together_and_lose_their_label() {
        let mut bar: Vec<Stretch> = (1..=200).map(|n| stretch(n * 15, '=', &["15"])).collect();
        bar.push(stretch(3001, '/', &["skip"]));
        let line = draw(&bar, Length::from_mm(3001));
        assert!(line.len() <= DRAWING + 2, "{}", line.len());
        assert!(!line.contains("skip"));
    }

    #[test]
    fn a_short_bar_is_drawn_short() {
        let line = draw(&[stretch(1000, '=', &["1000"])], Length::from_mm(4000));
        assert_eq!(line.len(), 20); // 1000 / 4000 x 75 = 18.75, rounded to column 19
    }
}
