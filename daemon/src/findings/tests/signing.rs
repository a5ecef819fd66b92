//! Revisions and fingerprints.

use super::*;

fn revised(change: impl FnOnce(&mut Trial)) -> Revision {
    let mut trial = Trial::of(&around(GOOD));
    change(&mut trial);
    revision(&trial.card, &trial.programs)
}

#[test]
fn titles_keep_the_revision() {
    let plain = revised(|_| {});
    assert_eq!(plain.0.len(), 64);
    assert_eq!(
        plain,
        revised(|t| {
            t.card.title = "Another title".into();
            t.card.name = "other".into();
            t.card.sheet.face = Some("good side up".into());
            t.card.sheet.grain = Some("along Y".into());
            t.card.named_parts.clear();
        })
    );
}

#[test]
fn whatever_changes_the_cut_revises() {
    let mut seen = vec![revised(|_| {})];
    let changes: [fn(&mut Trial); 9] = [
        |t| t.programs.get_mut("tray.nc").unwrap().push(b'\n'),
        |t| t.card.sheet.thickness = Length::whole_mm(13),
        |t| t.card.sheet.material = "mdf".into(),
        |t| t.card.sheet.corner.x = Length::whole_mm(1),
        |t| t.card.holddown.margin = Length::whole_mm(5),
        |t| t.card.holddown.places[0].at.x = Length::whole_mm(16),
        |t| t.card.holddown.places[0].with = Some("screw".into()),
        |t| t.card.operations[0].bit = "u3".into(),
        |t| t.card.operations[0].unattended = !t.card.operations[0].unattended,
    ];
    for change in changes {
        let new = revised(change);
        assert!(!seen.contains(&new));
        seen.push(new);
    }
}

#[test]
fn fingerprints_change_with_their_grounds() {
    let low = around(&GOOD.replace("F7200", "F1800"));
    let of = |change: fn(&mut Trial)| {
        let mut trial = Trial::of(&low);
        change(&mut trial);
        trial.findings()[0].fingerprint.clone()
    };
    let plain = of(|_| {});
    assert_eq!(plain.len(), 20);
    assert_eq!(plain, of(|t| t.card.title = "Another".into()));
    assert_eq!(plain, of(|t| t.thickness = Some(Length::from_mm(12.1).unwrap())));
    assert_ne!(plain, of(|t| t.stores.bits.get_mut("u6").unwrap().flutes = 3));
    assert_ne!(
        plain,
        of(|t| t.stores.materials.get_mut("plywood").unwrap().chip_load[0].most =
            chargehand_types::quantity::ChipLoad::of(0.2))
    );
    assert_ne!(plain, of(|t| t.programs.get_mut("tray.nc").unwrap().push(b'\n')));
}
