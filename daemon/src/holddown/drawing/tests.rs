//! What a drawing must show.

use super::*;

#[test]
fn inches_are_told_in_lowest_terms() {
    assert_eq!(inches(0.5), "1/2 in");
    assert_eq!(inches(12.0), "12 in");
    assert_eq!(inches(3.0 + 3.0 / 16.0), "3 3/16 in");
    assert_eq!(inches(23.99), "24 in");
    assert_eq!(inches(-0.25), "-1/4 in");
    // 15 mm is 0.5906 in: 9/16 is 0.5625, 10/16 is 0.625
    assert_eq!(tape(Length::whole_mm(15), Tape::Inch), "9/16 in");
    assert_eq!(tape(Length::whole_mm(15), Tape::Mm), "15 mm");
}

#[test]
fn the_sheet_fits_its_room() {
    assert_eq!(scale([610.0, 1220.0], [112.0, 187.0]), 7.0);
    assert_eq!(scale([90.0, 90.0], [112.0, 187.0]), 1.0);
}
