//! The files of the practice shop, built into this program.
//!
//! May live here: which files, and where they are written. May not: their content, which is `config/demo`.

use crate::outside;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use chargehand_types::check::CardFiles;
use std::io;
use std::path::Path;

const CONFIG: &str = include_str!("../../../config/demo/daemon.toml");

/// A card of the practice shop.
pub struct DemoCard {
    /// Its name.
    pub name: &'static str,
    file: &'static str,
    text: &'static str,
    programs: [(&'static str, &'static str); 2],
}

/// The cards, in the order in which they are cut.
pub const CARDS: [DemoCard; 2] = [
    DemoCard {
        name: "plant-stand-sides",
        file: "plant-stand-sides.card.toml",
        text: include_str!("../../../config/demo/plant-stand-sides.card.toml"),
        programs: [
            ("plant-stand-sides-slots.nc", include_str!("../../../config/demo/plant-stand-sides-slots.nc")),
            ("plant-stand-sides-outlines.nc", include_str!("../../../config/demo/plant-stand-sides-outlines.nc")),
        ],
    },
    DemoCard {
        name: "seed-trays",
        file: "seed-trays.card.toml",
        text: include_str!("../../../config/demo/seed-trays.card.toml"),
        programs: [
            ("seed-trays-pockets.nc", include_str!("../../../config/demo/seed-trays-pockets.nc")),
            ("seed-trays-outlines.nc", include_str!("../../../config/demo/seed-trays-outlines.nc")),
        ],
    },
];

impl DemoCard {
    /// As they are sent to the daemon.
    #[must_use]
    pub fn files(&self) -> CardFiles {
        CardFiles {
            file: self.file.to_owned(),
            text: self.text.to_owned(),
            programs: self.programs.iter().map(|(path, text)| ((*path).to_owned(), STANDARD.encode(text))).collect(),
        }
    }
}

/// Who works in the practice shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Operator {
    /// A person at the screen.
    Person,
    /// Nobody: the lists are answered by rule, which the daemon then says on every screen.
    Scripted,
}

/// Writes the shop's files into a folder: its config, and its cards for a look at them.
///
/// # Errors
/// When the folder cannot be written.
pub fn lay_out(folder: &Path, operator: Operator) -> io::Result<()> {
    let config = match operator {
        Operator::Person => CONFIG.to_owned(),
        Operator::Scripted => format!("{CONFIG}\n[bench]\nscripted_operator = true\n"),
    };
    outside::write_file(&folder.join("daemon.toml"), config.as_bytes())?;
    for card in &CARDS {
        outside::write_file(&folder.join(card.file), card.text.as_bytes())?;
        for (path, text) in card.programs {
            outside::write_file(&folder.join(path), text.as_bytes())?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_program_a_card_names_is_there() {
        for card in &CARDS {
            let table: toml::Table = card.text.parse().unwrap();
            assert_eq!(table["card"]["name"].as_str(), Some(card.name));
            let files = card.files();
            for operation in table["operation"].as_array().unwrap() {
                let program = operation["program"].as_str().unwrap();
                assert!(files.programs.contains_key(program), "{program}");
            }
            assert_eq!(files.programs.len(), table["operation"].as_array().unwrap().len());
        }
    }

    #[test]
    fn the_people_are_those_of_the_config() {
        let table: toml::Table = CONFIG.parse().unwrap();
        let people: Vec<(&str, &str)> = table["people"]
            .as_array()
            .unwrap()
            .iter()
            .map(|p| (p["role"].as_str().unwrap(), p["name"].as_str().unwrap()))
            .collect();
        assert_eq!(people, [("owner", super::super::OWNER), ("helper", super::super::HELPER)]);
    }

    #[test]
    fn a_scripted_shop_says_so_in_its_config() {
        let folder = tempfile::tempdir().unwrap();
        lay_out(folder.path(), Operator::Scripted).unwrap();
        let text = String::from_utf8(outside::file(&folder.path().join("daemon.toml")).unwrap()).unwrap();
        let table: toml::Table = text.parse().unwrap();
        assert_eq!(table["bench"]["scripted_operator"].as_bool(), Some(true));
        assert_eq!(table["machine"]["port"].as_str(), Some("simulated"));
    }
}
