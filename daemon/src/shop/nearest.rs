//! The name a person most likely meant.
//!
//! May live here: the distance between two words. May not: any list of names.

/// Words longer than this are not compared.
const LONGEST: usize = 64;

/// The allowed name nearest to a wrong one, if any is near enough: a third of its letters may differ.
#[must_use]
pub fn nearest<'n>(wrong: &str, names: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    let limit = (wrong.chars().count() / 3).max(1);
    names
        .into_iter()
        .map(|name| (distance(wrong, name), name))
        .filter(|(far, _)| *far <= limit)
        .min()
        .map(|(_, name)| name)
}

/// How many letters must be put in, left out, changed or swapped with their neighbour to make one word of the other,
/// upper and lower case alike (the optimal string alignment distance).
fn distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().flat_map(char::to_lowercase).collect();
    let b: Vec<char> = b.chars().flat_map(char::to_lowercase).collect();
    if a.len() > LONGEST || b.len() > LONGEST {
        return usize::MAX;
    }
    let mut before_last: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, &ca) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, &cb) in b.iter().enumerate() {
            let at = |row: &[usize], k: usize| row.get(k).copied().unwrap_or(usize::MAX);
            let mut best = (at(&last, j) + usize::from(ca != cb)).min(at(&last, j + 1) + 1).min(at(&row, j) + 1);
            let swapped = i > 0 && j > 0 && a.get(i - 1) == Some(&cb) && b.get(j - 1) == Some(&ca) && ca != cb;
            if swapped {
                best = best.min(at(&before_last, j - 1) + 1);
            }
            row.push(best);
        }
        before_last = last;
        last = row;
    }
    last.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_of_the_finger_are_near() {
        assert_eq!(nearest("diamter", ["kind", "diameter"]), Some("diameter"));
        assert_eq!(nearest("c653", ["c635", "u635"]), Some("c635"));
        assert_eq!(nearest("Flutes", ["flutes"]), Some("flutes"));
    }

    #[test]
    fn other_words_are_not() {
        assert_eq!(nearest("colour", ["kind", "diameter"]), None);
        assert_eq!(nearest("", []), None);
    }

    /// The textbook pair of Wagner and Fischer's problem, and Damerau's swap counted as one.
    #[test]
    fn distances_match_worked_examples() {
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("saturday", "sunday"), 3);
        assert_eq!(distance("ca", "ac"), 1);
        assert_eq!(distance("", "abc"), 3);
    }
}
