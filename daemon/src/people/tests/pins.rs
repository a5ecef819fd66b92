//! PINs and the waits.

use crate::people::{KeptPin, Pin, PinFault, wait_after};
use chargehand_types::secret::Secret;
use std::time::Duration;

fn secret(text: &str) -> Secret {
    Secret::new(text.to_owned())
}

#[test]
fn a_kept_pin_is_argon2id_and_tells_nothing_of_the_digits() {
    let pin = Pin::chosen(&secret("730418")).unwrap();
    let kept = pin.keep(&[7; 16]).unwrap();
    let text: String = kept.clone().into();
    // the PHC string form and the variant's name: RFC 9106, section 4, and the string form it is kept in everywhere
    assert!(text.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{text}");
    assert!(!text.contains("730418") && !format!("{pin:?}{kept:?}").contains("730418"));
    assert!(kept.is(&pin) && !kept.is(&Pin::typed(&secret("730419")).unwrap()));
    let other: String = pin.keep(&[8; 16]).unwrap().into();
    assert_ne!(text, other, "two people with one PIN are not seen to have the same");
    assert_eq!(KeptPin::try_from(text.clone()).map(String::from), Ok(text));
}

/// RFC 9106, section 5.3: the test vector of Argon2id, so that the library is the algorithm it says it is.
#[test]
fn the_library_gives_the_vector_of_the_standard() {
    use argon2::{Algorithm, Argon2, AssociatedData, ParamsBuilder, Version};
    let params = ParamsBuilder::new()
        .m_cost(32)
        .t_cost(3)
        .p_cost(4)
        .output_len(32)
        .data(AssociatedData::new(&[4; 12]).unwrap())
        .build()
        .unwrap();
    let argon = Argon2::new_with_secret(&[3; 8], Algorithm::Argon2id, Version::V0x13, params).unwrap();
    let mut tag = [0_u8; 32];
    argon.hash_password_into(&[1; 32], &[2; 16], &mut tag).unwrap();
    let hex: String = tag.iter().map(|b| format!("{b:02x}")).collect();
    assert_eq!(hex, "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659");
}

#[test]
fn what_is_no_pin_is_refused() {
    for bad in ["", "123", "1234567890123", "12a4", "١٢٣٤", " 1234", "-123"] {
        assert_eq!(Pin::typed(&secret(bad)), Err(PinFault::Form), "{bad:?}");
    }
    for plain in ["0000", "1234", "98765", "111111"] {
        assert_eq!(Pin::chosen(&secret(plain)), Err(PinFault::Plain), "{plain}");
        assert!(Pin::typed(&secret(plain)).is_ok(), "one set by another build may still be typed");
    }
    assert!(Pin::chosen(&secret("1357")).is_ok());
}

#[test]
fn a_kept_pin_that_would_stop_the_daemon_is_refused() {
    let dear = "$argon2id$v=19$m=4194304,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";
    for bad in [dear, "", "1234", "$argon2id$v=19$m=19456,t=2,p=1"] {
        assert!(KeptPin::try_from(bad.to_owned()).is_err(), "{bad}");
    }
}

/// NIST SP 800-63B, section 5.2.2 (from memory): no more than 100 failed tries in a row on one account. Here a hundred
/// take more than three days, and of the 10,000 PINs of four digits less than one in a hundred can be tried in a day.
#[test]
fn waits_grow_until_guessing_is_hopeless() {
    assert_eq!(
        [1, 2, 3, 4, 5].map(wait_after),
        [None, None, Some(30), Some(60), Some(120)].map(|s| s.map(Duration::from_secs))
    );
    assert_eq!(wait_after(u32::MAX), Some(Duration::from_secs(3600)));
    let day = Duration::from_secs(24 * 3600);
    let (mut passed, mut tried) = (Duration::ZERO, 0);
    let mut within_a_day = 0;
    while tried < 100 {
        tried += 1;
        within_a_day = if passed <= day { tried } else { within_a_day };
        passed += wait_after(tried).unwrap_or_default();
    }
    assert!(passed > 3 * day, "{passed:?}");
    assert!(within_a_day * 100 < 10_000, "{within_a_day}");
}
