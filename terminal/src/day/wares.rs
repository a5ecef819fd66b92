//! Complete sets and sheets in stock, as sentences.

use crate::words::count;
use chargehand_types::plan::{SetsRow, StockRow};
use chargehand_types::quantity::plain;
use std::collections::BTreeMap;
use std::fmt::Display;

fn list<K: Display>(numbers: &BTreeMap<K, u32>) -> String {
    let told: Vec<String> = numbers.iter().map(|(name, number)| format!("{number} {name}")).collect();
    told.join(", ")
}

/// How far a product is: what is complete, what is short, what one would have to add.
#[must_use]
pub fn completed(row: &SetsRow) -> String {
    let SetsRow { product, wanted, complete, .. } = row;
    let order = row.order.as_ref().map_or_else(String::new, |first| format!(" (from {first})"));
    let mut told = format!("{product}{order}: {complete} of {wanted} complete");
    if row.short.is_empty() {
        return format!("{told}.");
    }
    told.push_str(&format!(", {} short", list(&row.short)));
    if row.coming >= *wanted {
        told.push_str("; the sheets that wait complete them");
    } else if row.coming > *complete {
        told.push_str(&format!("; the sheets that wait make it {}", row.coming));
    }
    if !row.more.is_empty() {
        let sheets: Vec<String> = row
            .more
            .iter()
            .map(|(card, number)| format!("{} of {card}", count(u64::from(*number), "more sheet")))
            .collect();
        told.push_str(&format!("; {} would complete the rest", sheets.join(" and ")));
    }
    if !row.nowhere.is_empty() {
        told.push_str(&format!("; no card of the shop yields {}", list(&row.nowhere)));
    }
    told.push('.');
    told
}

/// What is there of a kind of stock, and what to buy.
#[must_use]
pub fn stocked(row: &StockRow) -> String {
    let there = match row.there {
        Some(there) => format!("{there} there"),
        None => "not counted yet".to_owned(),
    };
    let (share, sheets) = row.scrap;
    let rests = if sheets == 0 { "as is usual".to_owned() } else { format!("from {sheets} sheets") };
    let mut told = format!(
        "{}: {there}, {} wanted and {} to spare ({} % come out scrap, {rests})",
        row.stock,
        row.wanted,
        row.spare,
        plain((share * 1000.0).round() / 10.0)
    );
    if row.panels > 0 {
        let left = if row.left > 0 { format!(", {} left over", row.left) } else { String::new() };
        told.push_str(&format!(": buy {} for {:.2}{left}", count(u64::from(row.panels), "panel"), row.cost));
    }
    for trouble in &row.troubles {
        told.push_str(&format!(". {trouble}"));
    }
    told.push('.');
    told
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row() -> SetsRow {
        SetsRow {
            product: "plant stand".into(),
            wanted: 9,
            order: Some("B1".into()),
            complete: 7,
            short: BTreeMap::from([("shelf".to_owned(), 2)]),
            coming: 7,
            more: BTreeMap::from([("shelves".into(), 1)]),
            nowhere: BTreeMap::new(),
        }
    }

    #[test]
    fn sets_say_what_completes_them() {
        assert_eq!(
            completed(&row()),
            "plant stand (from B1): 7 of 9 complete, 2 shelf short; 1 more sheet of shelves would complete the rest."
        );
        let waits = SetsRow { coming: 9, more: BTreeMap::new(), ..row() };
        assert!(completed(&waits).ends_with("2 shelf short; the sheets that wait complete them."));
        let done = SetsRow { complete: 9, short: BTreeMap::new(), ..row() };
        assert_eq!(completed(&done), "plant stand (from B1): 9 of 9 complete.");
        let odd = SetsRow { nowhere: BTreeMap::from([("foot".to_owned(), 4)]), ..row() };
        assert!(completed(&odd).contains("no card of the shop yields 4 foot"));
    }

    #[test]
    fn stock_says_what_to_buy() {
        let row = StockRow {
            stock: "ply18".into(),
            there: Some(3),
            wanted: 8,
            spare: 1,
            scrap: (0.0476, 12),
            panels: 2,
            cost: 96.0,
            left: 2,
            troubles: vec!["shelves: a piece is 1.6 mm too short".into()],
        };
        assert_eq!(
            stocked(&row),
            "ply18: 3 there, 8 wanted and 1 to spare (4.8 % come out scrap, from 12 sheets): buy 2 panels for 96.00, \
             2 left over. shelves: a piece is 1.6 mm too short."
        );
        let none = StockRow { there: None, panels: 0, scrap: (0.05, 0), troubles: vec![], ..row };
        assert_eq!(
            stocked(&none),
            "ply18: not counted yet, 8 wanted and 1 to spare (5 % come out scrap, as is usual)."
        );
    }
}
