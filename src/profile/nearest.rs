//! The name that was meant.

/// The name of a list that is most like `text`, if one is like it at all: at most one letter in three is another one.
#[must_use]
pub fn nearest<'a>(text: &str, names: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let text: Vec<char> = text.trim().to_lowercase().chars().take(MOST_LETTERS).collect();
    let likeness = |name: &'a str| {
        let own: Vec<char> = name.chars().collect();
        let distance = distance(&text, &own);
        (distance * 3 <= own.len().max(text.len())).then_some((distance, name))
    };
    names.into_iter().filter_map(likeness).min_by_key(|(distance, _)| *distance).map(|(_, name)| name)
}

/// Letters of a wrong name that are looked at.
const MOST_LETTERS: usize = 60;

/// Letters to change, add, drop or exchange with their neighbour (optimal string alignment).
fn distance(a: &[char], b: &[char]) -> usize {
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, own) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, other) in b.iter().enumerate() {
            let mut best = (last[j] + usize::from(own != other)).min(last[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && a[i - 1] == *other && b[j - 1] == *own {
                best = best.min(before[j - 1] + 1);
            }
            row.push(best);
        }
        before = std::mem::replace(&mut last, row);
    }
    last.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn slips_of_the_pen_are_told_from_other_words() {
        let names = ["octet", "task", "columns", "severity", "encoding", "limits"];
        let cases = [
            ("octett", Some("octet")),
            ("Octet", Some("octet")),
            ("tsak", Some("task")),
            ("colums", Some("columns")),
            ("severities", Some("severity")),
            ("colour", None),
            ("x", None),
            ("", None),
        ];
        for (text, expected) in cases {
            assert_eq!(nearest(text, names), expected, "{text}");
        }
    }
}
