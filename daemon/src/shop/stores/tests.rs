//! What `stores` takes and what it refuses, with the words of each fault.

use super::*;
use crate::shop::fault::Fault;

/// Each fault as `line:column key: found | allowed | nearest`.
fn told(faults: &[Fault]) -> Vec<String> {
    let one = |f: &Fault| {
        format!(
            "{}:{} {}: {} | {} | {}",
            f.line,
            f.column,
            f.key,
            f.found,
            f.allowed,
            f.nearest.as_deref().unwrap_or("-")
        )
    };
    faults.iter().map(one).collect()
}

const BIT: &str =
    "[bit.c635]\ntitle = \"c\"\nkind = \"compression\"\ndiameter = 6.35\nflutes = 2\ncutting_length = 25.4\n";

#[test]
fn impossible_bits_are_refused() {
    let text = BIT.replace("6.35", "0.0").replace("flutes = 2", "flutes = 0")
        + "angle_deg = 90.0\ntool = 1\n\
        [bit.v]\ntitle = \" \"\nkind = \"v\"\ndiameter = 6\nflutes = 1\ncutting_length = -1\ntool = 1\nlife_m = 0\n";
    let faults = bits("bits.toml", &text).unwrap_err();
    assert_eq!(
        told(&faults),
        [
            "1:1 bit.c635.upcut_length: the key `upcut_length` is missing | a compression bit needs the length of its up-cutting tip | -",
            "4:12 bit.c635.diameter: found 0 mm | more than 0, up to 100 mm | -",
            "5:10 bit.c635.flutes: found 0 flutes | 1 to 12 flutes | -",
            "7:13 bit.c635.angle_deg: `angle_deg` means nothing here | only with kind = \"v\" | -",
            "9:1 bit.v.angle_deg: the key `angle_deg` is missing | a V bit needs the angle between its flanks | -",
            "10:9 bit.v.title: these are no words for people | one line of text | -",
            "14:18 bit.v.cutting_length: found -1 mm | more than 0, up to 300 mm | -",
            "15:8 bit.v.tool: T1 is the bit `c635` already | a number of its own for each bit | -",
            "16:10 bit.v.life_m: found 0 m | more than 0, up to 1000000 m | -",
        ]
    );
}

#[test]
fn a_helix_is_read_and_has_its_limits() {
    let text = BIT.to_owned() + "upcut_length = 5\nhelix_deg = 25\n";
    assert_eq!(bits("b", &text).unwrap()["c635"].helix.unwrap().value(), 25.0);
    let text = BIT.to_owned() + "upcut_length = 5\nhelix_deg = 75\n";
    assert_eq!(bits("b", &text).unwrap_err()[0].allowed, "0 to 60 deg");
}

#[test]
fn tip_is_no_longer_than_edge() {
    let text = BIT.to_owned() + "upcut_length = 26\n";
    assert_eq!(bits("b", &text).unwrap_err()[0].allowed, "more than 0, up to 25.4 mm");
    assert!(bits("b", &text.replace("26", "5")).is_ok());
}

#[test]
fn chip_loads_rise_by_diameter() {
    let text = "[material.m]\ntitle = \"m\"\nspecific_gravity = 0.5\nshear_strength = 6\ncutting_force = 18\n\
        [material.m.chip_load]\n\"12.7\" = [0.1, 0.2]\n\"6.35\" = [0.05, 0.1]\n\"8\" = [0.06, 0.1]\n";
    let read = materials("m.toml", text).unwrap();
    let diameters: Vec<f64> = read["m"].chip_load.iter().map(|r| r.diameter.mm()).collect();
    assert_eq!(diameters, [6.35, 8.0, 12.7]);
}

#[test]
fn mixed_up_chip_loads_are_refused() {
    let text = "[material.m]\ntitle = \"m\"\nspecific_gravity = 0.5\nshear_strength = 6\ncutting_force = 18\n\
        [material.m.chip_load]\n\"6\" = [0.2, 0.1]\n\"6.0\" = [0.1, 0.2]\nsix = [0.1, 0.2]\n\"7\" = [0.1, nan]\n";
    let faults = materials("m.toml", text).unwrap_err();
    assert_eq!(told(&faults), ["10:7 material.m.chip_load.7: NaN is no usable number here |  | -"]);
    let faults = materials("m.toml", &text.replace("nan", "0.2")).unwrap_err();
    assert_eq!(
        told(&faults),
        [
            "7:7 material.m.chip_load.6: the least, 0.2 mm/tooth, is more than the most | [least, most] | -",
            "8:9 material.m.chip_load.\"6.0\": the diameter 6 mm is there twice | each diameter once | -",
            "9:7 material.m.chip_load.six: `six` is no bit diameter | a diameter in mm, in quotes | -",
        ]
    );
}

#[test]
fn fasteners_need_what_holds() {
    let text = "[fastener.s]\ntitle = \"s\"\nkind = \"screw\"\n[fastener.c]\ntitle = \"c\"\nkind = \"clamp\"\n\
        [fastener.t]\ntitle = \"t\"\nkind = \"tap\"\n";
    let faults = fasteners("f.toml", text).unwrap_err();
    assert_eq!(faults[0].nearest.as_deref(), Some("tape"));
    let faults = fasteners("f.toml", &text.replace("\"tap\"", "\"tape\"")).unwrap_err();
    let keys: Vec<&str> = faults.iter().map(|f| f.key.as_str()).collect();
    assert_eq!(
        keys,
        [
            "fastener.s.diameter",
            "fastener.s.head_diameter",
            "fastener.s.length",
            "fastener.c.footprint",
            "fastener.t.strength",
            "fastener.t.thickness"
        ]
    );
}
